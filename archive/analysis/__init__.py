"""Analysis fit for few animals: summaries, reliability, tests, trials and cohorts. Pure: no Django.

What stands in `FOUND_IN` is imported when it is first asked for: the sums need numpy and scipy,
which the process that serves pages does not load.
"""

from importlib import import_module
from typing import Any

_WHERE = {
    "archive.analysis.gaps": "Gap",
    "archive.analysis.means": "Mean mean_of",
    "archive.analysis.bounded": "Bounded",
    "archive.analysis.columns": "Coded coded",
    "archive.analysis.behaviour.recorded": "Recorded",
    "archive.analysis.behaviour.scans": "Scans interval_shares time_budget",
    "archive.analysis.behaviour.tally": "Tally",
    "archive.analysis.reading": "read_coded read_numbers read_scans",
    "archive.analysis.behaviour.budgets": "Budget Share",
    "archive.analysis.behaviour.bouts": "Act Bouts Watched timed_budget watches_of",
    "archive.analysis.behaviour.acts": "Acted acts",
    "archive.analysis.behaviour.transitions": "Step Transitions transitions",
    "archive.analysis.behaviour.diversity": "Diversity diversity",
    "archive.analysis.behaviour.space": "Space Zone electivity space_use spread spread_unequal",
    "archive.analysis.behaviour.noise": "Level mean_level mean_levels",
    "archive.analysis.reliability.pairs": "Agreement Covered agreement band kappa_error kappa_of "
    "stepped",
    "archive.analysis.reliability.several": "Scale fleiss_kappa krippendorff_alpha",
    "archive.analysis.reliability.intraclass": "Intraclass intraclass",
    "archive.analysis.reliability.gate": "Gate Sitting Verdict judged stands",
    "archive.analysis.comparing.drawing": "Accepted Arms Ordered Phased",
    "archive.analysis.comparing.randomised": "Randomised Side randomisation",
    "archive.analysis.comparing.arms": "AmongArms among_arms",
    "archive.analysis.comparing.recorded": "among_arms_as_randomised as_randomised",
    "archive.analysis.comparing.ranks": "Ranked friedman kruskal_wallis page rank_sum signed_ranks",
    "archive.analysis.comparing.units": "Among Compared Units paired_t unit_f unit_means unit_t",
    "archive.analysis.comparing.shares": "empirical_logits logit_t quasi_binomial",
    "archive.analysis.comparing.covariates": "Along along",
    "archive.analysis.comparing.proposing": "Outcome Proposal Standing propose standing",
    "archive.analysis.told": "canonical digest plain",
    "archive.analysis.comparing.adjusting": "Pair Rule adjusted every_pair",
    "archive.analysis.comparing.effects": "g_of g_variance hedges_g small_sample",
    "archive.analysis.trials.growth": "Curve Fitted LengthWeight condition fit_curve growth_rate "
    "length_weight tank_growth thermal_growth",
    "archive.analysis.trials.feeding": "feed_conversion tank_conversion",
    "archive.analysis.trials.hatching": "Hatched exact_share hatching_success spread_of_shares",
    "archive.analysis.trials.litters": "Alike beta_binomial",
    "archive.analysis.trials.waiting": "LogRank Survival greenwood_error hatching_days log_rank "
    "log_rank_scores restricted_mean survival tank_log_rank",
    "archive.analysis.trials.warmth": "degree_days fitted_q10 q10 rate_at thermal_sum",
    "archive.analysis.trials.response": "DoseResponse Logit dose_response logit_fit",
    "archive.analysis.cohorts.found": "Cohort by_stratum difference log_ratio standardised",
    "archive.analysis.cohorts.pooling": "Method Pooled Row pool",
}
FOUND_IN = {name: module for module, names in _WHERE.items() for name in names.split()}
"""Each public name and the module that holds it."""

__all__ = list(FOUND_IN)


def __getattr__(name: str) -> Any:
    """Give a public name from the module that holds it."""
    if name not in FOUND_IN:
        raise AttributeError(f"archive.analysis has no {name!r}")
    return getattr(import_module(FOUND_IN[name]), name)


def __dir__() -> list[str]:
    """List the public names."""
    return sorted([*FOUND_IN, *globals()])
