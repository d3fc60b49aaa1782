"""Tests for few animals against published values and references; the source beside each check.

“From memory” is a value recalled, confirmed by the sum agreeing alone.
"""

import itertools
import math
from collections import Counter

import numpy as np
import pytest
from scipy import special, stats
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM

from archive.analysis import (
    Arms,
    Ordered,
    Phased,
    Rule,
    Side,
    adjusted,
    every_pair,
    friedman,
    g_of,
    g_variance,
    hedges_g,
    kruskal_wallis,
    logit_t,
    page,
    paired_t,
    quasi_binomial,
    randomisation,
    rank_sum,
    signed_ranks,
    small_sample,
    unit_f,
    unit_t,
)
from registry.design import Phases

pytestmark = pytest.mark.outside

# Fisher (1935), The Design of Experiments, chapter 3: Darwin's maize, eighths of an inch.
MAIZE = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]


def test_darwins_maize() -> None:
    # 1,726 of 32,768 changes of sign are as extreme: 5.267 per cent; t 2.148, p .0497.
    pairs = np.arange(15).repeat(2).tolist()
    values = np.column_stack([MAIZE, np.zeros(15)]).ravel()
    found = randomisation(Arms(np.tile([1, 0], 15), pairs), values)
    assert (found.arrangements, round(found.p * 32768)) == (32768, 1726)
    assert found.smallest_p == 2 / 32768
    by_t = paired_t(MAIZE, np.zeros(15))
    assert (by_t.t, by_t.p) == pytest.approx((2.148, 0.0497), abs=0.0005)
    # The interval of t is 0.03 to 41.8; the one without assumptions is near it and holds 0.
    assert found.low == pytest.approx(by_t.low, abs=2)
    assert found.low < 0 < by_t.low
    assert found.high == pytest.approx(by_t.high, abs=2)


def test_wilcoxons_signed_ranks_against_a_handbook() -> None:
    # Hollander and Wolfe (1973), p. 29, as R's documentation of wilcox.test has it: V 40, p .01953.
    first = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30]
    second = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29]
    found = signed_ranks(first, second, side=Side.GREATER)
    assert found.statistic == 40
    assert found.p == pytest.approx(0.01953, abs=5e-6)


def test_the_sum_of_ranks_against_a_handbook() -> None:
    # Hollander and Wolfe (1973), p. 69, as R's documentation has it: W 35, p .1272.
    first = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    found = rank_sum(first, [1.15, 0.88, 0.90, 0.74, 1.21], side=Side.GREATER)
    assert found.statistic == 35
    assert found.p == pytest.approx(0.1272, abs=5e-5)


def test_kruskal_and_wallis_against_a_handbook() -> None:
    # Hollander and Wolfe (1973), p. 116, as R's documentation has it: H .77143, p .68.
    groups = [[2.9, 3.0, 2.5, 2.6, 3.2], [3.8, 2.7, 4.0, 2.4], [2.8, 3.4, 3.7, 2.2, 2.0]]
    arms = [place for place, one in enumerate(groups) for _ in one]
    found = kruskal_wallis(np.concatenate(groups), arms)
    assert found.statistic == pytest.approx(0.77143, abs=5e-6)
    assert found.approximate_p == pytest.approx(0.68, abs=0.0005)
    assert found.arrangements == 252_252
    assert found.p == pytest.approx(0.68, abs=0.04)


# Hollander and Wolfe (1973), p. 140, as R's documentation of friedman.test has it: rounding times.
ROUNDING = """5.40 5.50 5.55 5.85 5.70 5.75 5.20 5.60 5.50 5.55 5.50 5.40 5.90 5.85 5.70 5.45 5.55
5.60 5.40 5.40 5.35 5.45 5.50 5.35 5.25 5.15 5.00 5.85 5.80 5.70 5.25 5.20 5.10 5.65 5.55 5.45 5.60
5.35 5.45 5.05 5.00 4.95 5.50 5.50 5.40 5.45 5.55 5.50 5.55 5.55 5.35 5.45 5.50 5.55 5.50 5.45 5.25
5.65 5.60 5.40 5.70 5.65 5.55 6.30 6.30 6.25"""


def test_friedman_against_a_handbook() -> None:
    # Chi-square 11.143, p .003805; going through ranks within players gives .0042 (the project's
    # notes, 1.3 × 10^17 arrangements drawn from).
    found = friedman(np.array(ROUNDING.split(), dtype=float).reshape(22, 3))
    assert found.statistic == pytest.approx(11.143, abs=0.0005)
    assert found.approximate_p == pytest.approx(0.003805, abs=5e-7)
    assert found.drawn == 99_999
    assert found.p == pytest.approx(0.0042, abs=4 * math.sqrt(2) * 0.00021)


def test_page_against_a_paper() -> None:
    # van de Wiel and Di Bucchianico (2001), as the documentation of scipy has it: L 133.5,
    # p .0018191 of untied ranks.
    table = ["343", "224", "335", "132", "232", "245", "124", "344", "245", "134"]
    found = page([[int(one) for one in row] for row in table])
    assert found.statistic == 133.5
    assert found.approximate_p == pytest.approx(0.0018191161948, abs=1e-12)
    # Independent: the tied ranks themselves in every order, folded row into row.
    chances = {0.0: 1.0}
    for row in table:
        ranks = stats.rankdata([int(one) for one in row])
        sums = [float(np.dot([1, 2, 3], one)) for one in itertools.permutations(ranks)]
        longer = Counter()
        for (total, chance), more in itertools.product(chances.items(), sums):
            longer[total + more] += chance / 6
        chances = longer
    exact = sum(chance for total, chance in chances.items() if total >= 133.5)
    assert found.p == pytest.approx(exact, abs=4 * math.sqrt(exact / 99_999))
    # Independent, where nothing is tied: the recursion in scipy.
    untied = np.array([[1, 2, 3, 4], [1, 3, 2, 4], [2, 1, 4, 3], [1, 2, 4, 3]])
    theirs = stats.page_trend_test(untied, method="exact")
    assert page(untied).p == pytest.approx(theirs.pvalue, abs=1e-12)


def test_adjusted_p_values_against_a_paper() -> None:
    # Benjamini and Hochberg (1995), section 4.2: Bonferroni rejects 3, Holm 3, theirs 4.
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240]
    p += [0.4262, 0.5719, 0.6528, 0.7590, 1.0]
    rejected = [int((adjusted(p, rule) <= 0.05).sum()) for rule in Rule]
    assert rejected == [3, 3, 4]


# R's data PlantGrowth, from Dobson (1983).
PLANTS = [
    [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
    [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
    [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
]


def test_several_arms_against_the_examples_of_a_statistics_system() -> None:
    # R's documentation of PlantGrowth: F 4.846, p .01591; Tukey .3909, .1980, .0120.
    found = unit_f(*PLANTS)
    assert (found.f, found.p) == pytest.approx((4.846, 0.01591), abs=0.0005)
    pairs = every_pair(PLANTS, ["control", "one", "two"])
    assert [one.p for one in pairs] == pytest.approx([0.3909, 0.1980, 0.0120], abs=5e-5)
    # Intervals of the same output (from memory): 0.371 (−0.320, 1.062), −0.494 (−1.185, 0.197).
    assert (pairs[0].low, pairs[0].high) == pytest.approx((-0.3202161, 1.0622161), abs=5e-5)
    assert (pairs[1].low, pairs[1].high) == pytest.approx((-1.1852161, 0.1972161), abs=5e-5)


def test_hedges_g_against_a_textbook() -> None:
    # Borenstein et al. (2009), chapter 4: means 103 and 100, deviations 5.5 and 4.5, 50 and 50:
    # d .5970, its variance .0418, g .5924, its variance .0411.
    spread = math.sqrt((5.5**2 + 4.5**2) / 2)
    assert 3 / spread == pytest.approx(0.5970, abs=5e-5)
    assert g_of(3, spread, 50, 50).value == pytest.approx(0.5924, abs=5e-5)
    assert g_variance(3 / spread, 50, 50) == pytest.approx(0.0411, abs=6e-5)
    # Hedges (1981), table of the correction, from memory: c(10) = .9228.
    assert small_sample(10) == pytest.approx(0.9228, abs=6e-5)


def test_the_interval_of_g_is_where_the_noncentral_t_says() -> None:
    # Independent: distribution function of scipy.stats at both ends.
    one, other = PLANTS[2][:5], PLANTS[1][:4]
    found = hedges_g(one, other)
    t, root = stats.ttest_ind(one, other).statistic, math.sqrt(20 / 9)
    ends = [end / small_sample(7) * root for end in (found.low, found.high)]
    assert stats.nct.cdf(t, 7, ends) == pytest.approx([0.975, 0.025], abs=1e-6)


def test_t_tests_against_a_reference_library() -> None:
    # Independent: scipy.stats, tests and intervals.
    for equal in (True, False):
        theirs = stats.ttest_ind(PLANTS[2], PLANTS[1][:7], equal_var=equal)
        found = unit_t(PLANTS[2], PLANTS[1][:7], equal_spread=equal)
        assert (found.t, found.df, found.p) == pytest.approx(
            (theirs.statistic, theirs.df, theirs.pvalue)
        )
        assert (found.low, found.high) == pytest.approx(tuple(theirs.confidence_interval()))


def test_all_arrangements_against_a_reference_library() -> None:
    # Independent: scipy.stats.permutation_test, all arrangements.
    def apart(x, y, axis):
        return np.mean(x, axis=axis) - np.mean(y, axis=axis)

    one, other = PLANTS[2][:6], PLANTS[1][:5]
    for side in Side:
        name = {Side.BOTH: "two-sided", Side.GREATER: "greater", Side.LESS: "less"}[side]
        theirs = stats.permutation_test(
            (one, other), apart, n_resamples=np.inf, vectorized=True, alternative=name
        )
        found = randomisation(Arms([1] * 6 + [0] * 5), [*one, *other], side=side)
        # Theirs doubles the smaller tail; both count the same arrangements on one side.
        if side is not Side.BOTH:
            assert found.p == pytest.approx(theirs.pvalue)
        assert found.effect == pytest.approx(theirs.statistic)
    both = [
        abs(np.mean(x) - (sum([*one, *other]) - sum(x)) / 5)
        for x in itertools.combinations([*one, *other], 6)
    ]
    by_hand = np.mean(np.array(both) >= abs(found.effect) - 1e-9)
    assert randomisation(Arms([1] * 6 + [0] * 5), [*one, *other]).p == pytest.approx(by_hand)


def test_phases_have_as_many_arrangements_as_the_book_counts() -> None:
    # Edgington and Onghena (2007), chapter 11: AB of 20 sessions, 5 at the least, 11 starts and a
    # smallest p of 1/11. ABAB of 24, 4 at the least: 165 (Onghena 1992, from memory).
    plan = Phases(sessions=20, shortest=5)
    phases = "A" * 10 + "B" * 10
    found = randomisation(Phased([plan], [phases]), [0.0] * 10 + [1.0] * 10, side=Side.GREATER)
    assert (found.arrangements, found.p) == (11, pytest.approx(1 / 11))
    assert "No outcome could have been significant" in found.gaps[0].said
    three = randomisation(Phased([plan] * 3, [phases] * 3), ([0.0] * 10 + [1.0] * 10) * 3)
    assert (three.arrangements, three.p) == (1331, pytest.approx(1 / 1331))
    longer = Phases(sessions=24, phases="ABAB", shortest=4)
    drawn = "A" * 5 + "B" * 6 + "A" * 6 + "B" * 7
    assert randomisation(Phased([longer], [drawn]), np.arange(24.0)).arrangements == 165


def test_orders_against_going_through_them_one_by_one() -> None:
    # Independent: itertools over the animals' orders.
    draws = np.random.default_rng(2)
    orders = ["xy", "yx", "xy", "yx", "xy", "yx"]
    y = draws.normal([0, 1], 1, (6, 2))
    found = randomisation(Ordered(orders, "x", "y"), y)
    sign = np.array([1 if one == "xy" else -1 for one in orders])
    apart = y[:, 0] - y[:, 1]
    every = set(itertools.permutations(sign.tolist()))
    seen = np.array([np.mean(np.array(one) * apart) for one in every])
    actual = np.mean(sign * apart)
    assert found.arrangements == 20
    assert found.effect == pytest.approx(actual)
    assert found.p == pytest.approx(np.mean(np.abs(seen) >= abs(actual) - 1e-12))


def test_the_quasi_binomial_test_against_a_fitted_model() -> None:
    # Independent: binomial GLM of statsmodels with Pearson's scale, p by t(tanks − 2).
    hatched, laid = np.array([20, 12, 24, 9, 10, 15, 4, 14]), np.array([25, 24, 25, 20] * 2)
    arm = np.repeat([1.0, 0.0], 4)
    x = np.column_stack([np.ones(8), arm])
    model = GLM(hatched / laid, x, family=Binomial(), var_weights=laid)
    fit = model.fit(scale="X2")
    assert fit.scale > 1
    found = quasi_binomial(hatched[:4], laid[:4], hatched[4:], laid[4:])
    assert found.effect == pytest.approx(fit.params[1])
    assert found.effect / found.t == pytest.approx(fit.bse[1])
    assert found.p == pytest.approx(2 * stats.t.sf(abs(fit.tvalues[1]), 6))


RUNS = 400


def within(said: float, found: float) -> bool:
    """Say whether two simulated shares of 400 runs differ by no more than chance, 4 errors."""
    return abs(said - found) <= 4 * math.sqrt(2 * max(said * (1 - said), 0.01) / RUNS)


@pytest.mark.parametrize(
    ("tanks", "by_t", "exact", "quasi", "logit", "share", "exact_share"),
    # The project's notes, 400 runs of a true null. Ten fish in each tank, ICC .2: t of tank means,
    # all arrangements. Twenty-five eggs in each tank, deviation between tanks .6 in logits:
    # quasi-binomial, empirical logits, shares of tanks by t, all arrangements of them.
    [(3, 0.043, 0.0, 0.020, 0.043, 0.043, 0.0), (4, 0.043, 0.025, 0.035, 0.052, 0.058, 0.018)],
)
def test_the_tests_keep_their_level(
    tanks: int, by_t: float, exact: float, quasi: float, logit: float, share: float, exact_share
) -> None:
    draws = np.random.default_rng(20)
    arm = Arms([1] * tanks + [0] * tanks)
    fish = draws.normal(0, math.sqrt(0.2 + 0.8 / 10), (RUNS, 2 * tanks))
    eggs = draws.binomial(25, special.expit(draws.normal(0, 0.6, (RUNS, 2 * tanks))))
    of = [25] * tanks
    found = np.zeros(6)
    for means, seen in zip(fish, eggs, strict=True):
        one, other = seen[:tanks], seen[tanks:]
        found += [
            unit_t(means[:tanks], means[tanks:]).p <= 0.05,
            randomisation(arm, means).p <= 0.05,
            quasi_binomial(one, of, other, of).p <= 0.05,
            logit_t(one, of, other, of).p <= 0.05,
            unit_t(one / 25, other / 25).p <= 0.05,
            randomisation(arm, seen / 25).p <= 0.05,
        ]
    said = (by_t, exact, quasi, logit, share, exact_share)
    for ours, noted in zip(found / RUNS, said, strict=True):
        assert within(noted, ours), (found / RUNS, said)
    # The level itself: none of them is above .05 by more than chance.
    assert (found / RUNS <= 0.05 + 4 * math.sqrt(0.05 * 0.95 / RUNS)).all()
