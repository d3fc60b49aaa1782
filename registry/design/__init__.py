"""Study design: replication, allocation, schedules, simulation and the plan. Pure: no Django.

What stands in `FOUND_IN` is imported when it is first asked for: the sums need numpy and scipy,
which the process that serves pages loads only when somebody designs.
"""

from importlib import import_module
from typing import Any

_WHERE = {
    "registry.design.sizes.base": "Design",
    "registry.design.sizes.asking": "Sized solve",
    "registry.design.sizes.around": "Point Shift curve sensitivity",
    "registry.design.sizes.means": "Factorial OneGroup Pairs SeveralGroups Spread TwoGroups",
    "registry.design.sizes.tanks": "TankMeans TankShares inflation smallest_p typical_size",
    "registry.design.sizes.repeated": "Crossover Follow Followed Slopes",
    "registry.design.sizes.shares": "ChangedPairs ShareTest Table TwoShares",
    "registry.design.sizes.exact": "fisher_p power_of_region unconditional_p unconditional_region",
    "registry.design.sizes.counts": "TankRates TwoRates rate_ratio_power",
    "registry.design.sizes.ranks": "Correlation RankedGroups RankedPairs Wait Waiting",
    "registry.design.widths": "error_degrees mean_half_width number_for_mean number_for_share "
    "of_a_collection resource_said spread_for_mean wald_number wilson_half_width",
    "registry.design.phases": "Phases Reach alternations combined_p confirmed reach staggered "
    "two_arms windowed",
    "registry.design.units": "Candidate possible_arms replicated unit_of",
    "registry.design.collection": "Offer offer",
    "registry.design.draws": "Stream commitment is_revealed new_seed seed_for seed_from",
    "registry.design.allocation.base": "Allocation Place",
    "registry.design.allocation.deals": "blocked complete permuted",
    "registry.design.allocation.phased": "phased",
    "registry.design.allocation.squares": "crossover latin latin_square reduced_squares williams",
    "registry.design.allocation.minimised": "leaning minimised",
    "registry.design.allocation.rerandomised": "accepted_reach balance_of rerandomised "
    "restricted_p variance_reduction",
    "registry.design.allocation.asking": "METHODS allocate",
    "registry.design.allocation.reaching": "COUNTED draw_reach",
    "registry.design.allocation.blinding": "balance_table codes printed",
    "registry.design.simulating.studies": "Outcome Study logit_spread",
    "registry.design.simulating.analyses": "Analysis",
    "registry.design.simulating.running": "Rate Simulated simulate",
    "registry.design.simulating.in_phases": "PhaseStudy simulate_phases",
    "registry.design.schedules.sessions": "Busy Clash Schedule Session Slot clashes schedule",
    "registry.design.schedules.evenness": "Judged cross_table judged",
    "registry.design.schedules.paper": "Line calendar focal_sheet printed_schedule scan_sheet "
    "scan_times",
    "registry.design.schedules.intervals": "Suits Watch independent_after interval_check "
    "one_zero_share scan_variance",
    "registry.design.schedules.asking": "scheduled",
    "registry.design.keeping": "Kept Reckoned plain reckoned simulated sized",
    "registry.design.plan": "Achieved Item Outline PLAN_SOURCE achieved came_of_it essential_items",
    "registry.design.estimating": "Estimate estimate",
    "registry.design.recording": "Summary may_give recording_caution",
    "registry.design.replication": "Caution Treatment replication_cautions",
}
FOUND_IN = {name: module for module, names in _WHERE.items() for name in names.split()}
"""Each public name and the module that holds it."""

__all__ = list(FOUND_IN)


def __getattr__(name: str) -> Any:
    """Give a public name from the module that holds it."""
    if name not in FOUND_IN:
        raise AttributeError(f"registry.design has no {name!r}")
    return getattr(import_module(FOUND_IN[name]), name)


def __dir__() -> list[str]:
    """List the public names."""
    return sorted([*FOUND_IN, *globals()])
