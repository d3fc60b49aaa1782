"""Replication against published tables and worked examples; the source stands beside each check.

A published number of units is checked as “power at the tabled number”: tables round to the nearest,
and the project rounds up. “From memory” is a value recalled, confirmed by the sum agreeing alone.
"""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from registry.design import (
    ChangedPairs,
    Correlation,
    Crossover,
    Factorial,
    Follow,
    Followed,
    OneGroup,
    Phases,
    RankedGroups,
    SeveralGroups,
    ShareTest,
    Slopes,
    Spread,
    Table,
    TankMeans,
    TankRates,
    TankShares,
    TwoGroups,
    TwoRates,
    TwoShares,
    Wait,
    Waiting,
    combined_p,
    error_degrees,
    fisher_p,
    inflation,
    mean_half_width,
    number_for_mean,
    number_for_share,
    of_a_collection,
    power_of_region,
    rate_ratio_power,
    reach,
    smallest_p,
    solve,
    two_arms,
    unconditional_p,
    wald_number,
    wilson_half_width,
)

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    ("d", "n", "alpha", "power"),
    [
        # Cohen (1992), Psychological Bulletin 112, 155–159, table 2 (α .01 from memory).
        (0.2, 393, 0.05, 0.8),
        (0.5, 64, 0.05, 0.8),
        (0.8, 26, 0.05, 0.8),
        (0.2, 586, 0.01, 0.8),
        (0.5, 95, 0.01, 0.8),
        (0.8, 38, 0.01, 0.8),
        # Cohen (1988), table 2.4.1, the column of power .90, read at homeworksource.com/p/999467.
        (0.2, 526, 0.05, 0.9),
        (0.4, 132, 0.05, 0.9),
        (0.5, 85, 0.05, 0.9),
        (0.8, 34, 0.05, 0.9),
        (1.0, 22, 0.05, 0.9),
    ],
)
def test_two_groups_against_cohens_table(d: float, n: int, alpha: float, power: float) -> None:
    design = TwoGroups(sd=1, alpha=alpha)
    assert design.power(n, d) == pytest.approx(power, abs=0.008)
    assert solve(design, effect=d, power=power).n in {n, n + 1}


def test_t_tests_against_the_examples_of_a_statistics_system() -> None:
    # Documentation of R's power.t.test: n = 20, delta = 1; power = .90, delta = 1.
    assert TwoGroups(sd=1).power(20, 1) == pytest.approx(0.8689528, abs=1e-6)
    assert solve(TwoGroups(sd=1), effect=1, power=0.9).unrounded == pytest.approx(
        22.02110, abs=1e-4
    )
    # Paired, delta / sd = .5, power .8: from memory.
    found = solve(OneGroup(sd=1), effect=0.5, power=0.8)
    assert found.unrounded == pytest.approx(33.36713, abs=1e-4)


@pytest.mark.parametrize(
    ("groups", "f", "n"),
    [
        # Cohen (1992), table 2, all that it prints for α .05 that were at hand.
        (2, 0.1, 393),
        (2, 0.25, 64),
        (2, 0.4, 26),
        (3, 0.25, 52),
        (3, 0.4, 21),
        (4, 0.1, 274),
        (4, 0.25, 45),
        (5, 0.1, 240),
        (5, 0.4, 16),
        (6, 0.1, 215),
        (6, 0.25, 35),
        (6, 0.4, 14),
        (7, 0.1, 195),
        (7, 0.25, 32),
        (7, 0.4, 13),
    ],
)
def test_several_groups_against_cohens_table(groups: int, f: float, n: int) -> None:
    design = SeveralGroups(groups=groups, sd=1, means=Spread.DEVIATION)
    assert design.power(n, f) == pytest.approx(0.8, abs=0.012)


def test_several_groups_against_the_examples_of_a_statistics_system() -> None:
    # Documentation of R's power.anova.test: 4 groups, variance 1 between (n − 1) and 3 within.
    design = SeveralGroups(groups=4, sd=math.sqrt(3), means=Spread.DEVIATION)
    f = math.sqrt(3 / 4)
    assert design.power(5, f) == pytest.approx(0.3535594, abs=1e-6)
    found = solve(design, effect=f, power=0.8)
    assert found.unrounded == pytest.approx(11.92613, abs=1e-4)


def test_a_two_by_two_is_what_its_contrasts_are() -> None:
    # Cohen (1988), section 8.3.3: with the same error the main effect of a 2 × 2 is a t test of 2n
    # against 2n units on 4(n − 1) degrees of freedom; the noncentral t is the independent sum.
    for n, d in ((5, 1.0), (16, 0.72)):
        critical = stats.t.ppf(0.975, 4 * (n - 1))
        shift = d * math.sqrt(n)
        two = stats.nct.sf(critical, 4 * (n - 1), shift) + stats.nct.cdf(
            -critical, 4 * (n - 1), shift
        )
        assert Factorial(sd=1).power(n, d) == pytest.approx(two, abs=1e-9)
        both = Factorial(sd=1, of=(0, 1)).power(n, 2 * d)
        assert both == pytest.approx(two, abs=1e-9)


@pytest.mark.parametrize(("h", "n"), [(0.2, 392), (0.5, 63), (0.8, 25)])
def test_arcsines_against_cohens_table(h: float, n: int) -> None:
    # Cohen (1992), table 2.
    base = 0.5
    other = math.sin(math.asin(math.sqrt(base)) + h / 2) ** 2
    design = TwoShares(baseline=base, by=ShareTest.ARCSINE)
    assert design.power(n, other - base) == pytest.approx(0.8, abs=0.012)


def test_pooled_shares_against_published_examples() -> None:
    # Documentation of R's power.prop.test: n = 50, .50 against .75; power .90.
    design = TwoShares(baseline=0.5, by=ShareTest.POOLED)
    assert design.power(50, 0.25) == pytest.approx(0.740, abs=0.0005)
    assert solve(design, effect=0.25, power=0.9).unrounded == pytest.approx(76.7, abs=0.05)
    # Fleiss (1981), .25 against .40, α .01, power .95: 344, corrected 357 (from memory).
    plain = TwoShares(baseline=0.25, by=ShareTest.POOLED, alpha=0.01)
    corrected = TwoShares(baseline=0.25, by=ShareTest.CORRECTED, alpha=0.01)
    assert round(solve(plain, effect=0.15, power=0.95).unrounded) == 344
    assert round(solve(corrected, effect=0.15, power=0.95).unrounded) == 357


def test_exact_shares_against_published_tables_and_another_library() -> None:
    # Mehta and Senchaudhuri (2003), as the documentation of scipy prints them; arms in columns:
    # [[7, 12], [8, 3]] by Barnard .0341, [[74, 31], [43, 32]] by Boschloo .0355.
    assert unconditional_p(15, 15, 1, by="wald")[7, 12] == pytest.approx(0.0341, abs=5e-5)
    assert unconditional_p(63, 117, 1)[31, 74] == pytest.approx(0.0355, abs=1e-4)
    # .2 against .8, 15 in each arm: enumerated from scipy's own Fisher test, table by table.
    counted = 0.0
    chance = [stats.binom.pmf(range(16), 15, p) for p in (0.2, 0.8)]
    for a, b in itertools.product(range(16), repeat=2):
        p = stats.fisher_exact([[a, 15 - a], [b, 15 - b]]).pvalue
        assert fisher_p(15, 15)[a, b] == pytest.approx(p, rel=1e-6)
        counted += (p <= 0.05) * chance[0][a] * chance[1][b]
    assert counted == pytest.approx(0.872, abs=0.0005)
    assert power_of_region(fisher_p(15, 15) <= 0.05, 0.2, 0.8) == pytest.approx(counted, abs=1e-9)
    assert TwoShares(baseline=0.2).power(15, 0.6) == pytest.approx(counted, abs=1e-9)


def test_changed_pairs_against_a_worked_example() -> None:
    # Connor (1987), p10 = .45 and p01 = .05, power .8; the call with n = 22 is read at
    # rdrr.io/github/Ajfrick/ajfhelpR/man/pwr_mcnemar.html.
    found = solve(ChangedPairs(discordant=0.5), effect=0.4, power=0.8)
    assert found.unrounded == pytest.approx(22, abs=0.02)


@pytest.mark.parametrize(
    ("rate", "n", "power"),
    [(1.8, 29, 0.90056), (1.9, 39, 0.90649), (2.2, 115, 0.90014), (2.4, 404, 0.90064)],
)
def test_rates_against_a_reference_table(rate: float, n: int, power: float) -> None:
    # Zhu (2017); the table stands in statsmodels, test_rates_poisson.py, and is not computed there.
    found = rate_ratio_power(rate, 2.2, n, exposure=2.5, margin=1.2, alpha=0.025, sides=1)
    assert found == pytest.approx(power, abs=5e-5)
    both = rate_ratio_power(rate, 2.2, n, exposure=2.5, margin=1.2)
    assert both == pytest.approx(power, abs=5e-5)


def test_rates_agree_with_a_simulation_of_counts() -> None:
    # Independent of the formula: counts drawn, and the test on the logarithm of their ratio done.
    draws = np.random.default_rng(20261130)
    n, runs, k = 20, 20_000, 0.2
    own = [draws.gamma(1 / k, k, (runs, n)) for _ in range(2)]
    counts = [draws.poisson(3 * rate * one) for rate, one in zip((3, 2), own, strict=True)]
    sums = [one.sum(axis=1) for one in counts]
    variance = sum(1 / one for one in sums) + 2 * k / n
    share = np.mean(np.abs(np.log(sums[0] / sums[1])) / np.sqrt(variance) > 1.959964)
    design = TwoRates(baseline=2, exposure=3, overdispersion=k)
    assert design.power(n, 1.5) == pytest.approx(share, abs=0.015)


def test_tank_rates_against_the_published_formula() -> None:
    # Hayes and Bennett (1999), formula; there is no printed number. t asks for about one more than
    # z, which is what the added one in their formula stands for.
    for l0, l1, y, k in ((0.1, 0.05, 100, 0.25), (0.02, 0.01, 400, 0.3)):
        z = 1.959964 + 0.841621
        c = 1 + z**2 * ((l0 + l1) / y + k**2 * (l0**2 + l1**2)) / (l0 - l1) ** 2
        design = TankRates(baseline=l0, watched=y, variation=k)
        assert solve(design, effect=l1 / l0, power=0.8).unrounded == pytest.approx(c, abs=0.35)


@pytest.mark.parametrize(
    ("df", "w", "n"),
    [
        # Cohen (1992), table 2.
        (1, 0.1, 785),
        (1, 0.3, 87),
        (1, 0.5, 31),
        (2, 0.1, 964),
        (2, 0.3, 107),
        (2, 0.5, 39),
        (3, 0.1, 1090),
        (3, 0.3, 121),
        (3, 0.5, 44),
        (4, 0.1, 1194),
        (4, 0.3, 133),
        (4, 0.5, 48),
    ],
)
def test_tables_against_cohens_table(df: int, w: float, n: int) -> None:
    assert solve(Table(df=df), effect=w, power=0.8).n in {n, n + 1}
    assert Table(df=df).power(n, w) == pytest.approx(0.8, abs=0.012)


@pytest.mark.parametrize(("r", "n"), [(0.1, 783), (0.3, 85), (0.5, 28)])
def test_correlation_against_cohens_table(r: float, n: int) -> None:
    # Cohen (1992), table 2; his 28 is about one low, as Fisher's z gives 29.01.
    assert solve(Correlation(), effect=r, power=0.8).unrounded == pytest.approx(n, abs=1.05)


def test_waiting_times_against_published_examples() -> None:
    # Events: textbook values from memory, HR 2 and 1.5.
    sure = Waiting(events=1, events_other=1)
    for ratio, events in ((2, 66), (1.5, 191)):
        assert math.ceil(2 * solve(sure, effect=ratio, power=0.8).unrounded) == events
    # Collett (2003), example 10.1, from memory: ψ .57, power .9, 133 events (unrounded 133.015).
    found = 2 * solve(sure, effect=0.57, power=0.9).unrounded
    assert found == pytest.approx(133.015, abs=0.001)
    # lifelines, documentation of sample_size_necessary_under_cph(.8, 1, .8, .2, .139): 14, 14.
    few = Waiting(events=0.8, events_other=0.2, by=Wait.FREEDMAN)
    assert solve(few, effect=0.139, power=0.8).n == 14


def test_rank_tests_against_noether_and_a_simulation() -> None:
    # Noether (1987): d = .5 gives p = .638 and 68.5 in each arm.
    found = solve(RankedGroups(sd=1), effect=0.5, power=0.8)
    assert found.unrounded == pytest.approx(68.5, abs=0.1)
    # Hodges and Lehmann (1956): relative efficiency 3 / π, so about 64 / .955 = 67.
    t = solve(TwoGroups(sd=1), effect=0.5, power=0.8).unrounded
    assert found.unrounded == pytest.approx(t * math.pi / 3, rel=0.03)
    draws = np.random.default_rng(7)
    one, other = draws.normal(0, 1, (2000, 69)), draws.normal(0.5, 1, (2000, 69))
    p = stats.mannwhitneyu(one, other, axis=1, method="asymptotic").pvalue
    assert np.mean(p < 0.05) == pytest.approx(0.8, abs=0.03)


def test_tanks_against_published_factors_and_the_exact_distribution() -> None:
    # Kish (1965): 20 in a tank, ICC .05. Eldridge et al. (2006): a spread of sizes adds to it.
    assert inflation(20, 0.05) == pytest.approx(1.95)
    assert inflation(20, 0.05, cv=0.5) == pytest.approx(2.2)
    # Simulations of the project's notes, 400 runs each: .62 for 4 tanks of 10, ICC .2, d = 1; and
    # the tanks an arm for d = .8, 15 in each.
    design = TankMeans(sd=1, icc=0.2, per_unit=10)
    assert design.power(4, 1) == pytest.approx(0.609, abs=0.0005)
    # The hopeful way, n over the design effect with the animals' degrees of freedom, says .731.
    alone = 40 / inflation(10, 0.2)
    shift = math.sqrt(alone / 2)
    critical = stats.t.ppf(0.975, 2 * alone - 2)
    naive = stats.nct.sf(critical, 2 * alone - 2, shift)
    assert naive == pytest.approx(0.731, abs=0.02)
    assert naive > design.power(4, 1) + 0.1
    for icc, tanks in ((0.05, 5), (0.1, 6), (0.2, 8)):
        assert solve(TankMeans(sd=1, icc=icc, per_unit=15), effect=0.8, power=0.8).n == tanks
    # Counted: 2, 3, 4 and 5 tanks an arm.
    for n, p in ((2, 0.333), (3, 0.10), (4, 0.0286), (5, 0.0079)):
        assert smallest_p(n) == pytest.approx(p, abs=0.0005)


def test_eggs_in_tanks_agree_with_a_simulation() -> None:
    # Independent of the formula: beta-binomial eggs drawn, scipy's t test of tank shares done.
    draws = np.random.default_rng(11)
    n, m, icc, runs = 8, 25, 0.1, 8000
    shares = []
    for p in (0.6, 0.8):
        own = draws.beta(p * (1 / icc - 1), (1 - p) * (1 / icc - 1), (runs, n))
        shares.append(draws.binomial(m, own) / m)
    found = stats.ttest_ind(shares[0], shares[1], axis=1).pvalue
    design = TankShares(baseline=0.6, icc=icc, per_unit=m)
    assert design.power(n, 0.2) == pytest.approx(np.mean(found < 0.05), abs=0.02)


def test_repeated_measures_against_frison_and_pocock() -> None:
    # Frison and Pocock (1992): one before and one after at a correlation of one half: .75 with the
    # covariate, 1.0 for the change; four after at .65: .7375.
    assert Followed(sd=1, rho=0.5).variance_factor == pytest.approx(0.75)
    assert Followed(sd=1, rho=0.5, follow=Follow.CHANGE).variance_factor == pytest.approx(1.0)
    after = Followed(sd=1, rho=0.65, before=0, after=4, follow=Follow.AFTER)
    assert after.variance_factor == pytest.approx(0.7375)


@pytest.mark.parametrize(
    ("rho", "variance", "n"),
    [
        (0.2, 100, 313),
        (0.2, 200, 625),
        (0.2, 300, 938),
        (0.5, 100, 196),
        (0.5, 200, 391),
        (0.5, 300, 586),
        (0.8, 100, 79),
        (0.8, 200, 157),
        (0.8, 300, 235),
    ],
)
def test_slopes_against_a_published_table(rho: float, variance: float, n: int) -> None:
    # Diggle et al. (2002), p. 29, read at rdrr.io/cran/longpower/src/tests/testthat/tests.R: times
    # 0, 2, 5, difference .5, one-sided .05. By the normal; t asks for less than one more.
    design = Slopes(sd=math.sqrt(variance), rho=rho, times=(0, 2, 5), sides=1)
    assert solve(design, effect=0.5, power=0.8).n in {n, n + 1}
    normal = 2 * (1.644854 + 0.841621) ** 2 * (design.sd_unit_slopes / 0.5) ** 2
    assert math.ceil(normal) == n


def test_a_crossover_agrees_with_a_simulation_of_least_squares() -> None:
    # Independent of the formula: four treatments in the orders of a Williams square, fitted whole.
    draws = np.random.default_rng(5)
    square = np.array([[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]])
    order, runs = np.tile(square, (2, 1)), 4000
    units, periods = order.shape
    columns = [np.repeat(np.eye(units), periods, axis=0)]
    columns.append(np.tile(np.eye(periods), (units, 1))[:, 1:])
    columns.append(np.eye(4)[order.ravel()][:, 1:])
    fit = np.hstack(columns)
    inverse = np.linalg.inv(fit.T @ fit)
    y = draws.normal(0, math.sqrt(0.5), (runs, units, 1)) + draws.normal(
        0, math.sqrt(0.5), (runs, units, periods)
    )
    y = (y + np.where(order == 1, 1.0, 0.0)).reshape(runs, -1)
    found = y @ fit @ inverse
    left = y - found @ fit.T
    df = units * periods - fit.shape[1]
    assert df == (units - 2) * 3
    error = np.sqrt((left**2).sum(axis=1) / df * inverse[-3, -3])
    share = np.mean(np.abs(found[:, -3] / error) > stats.t.ppf(0.975, df))
    assert Crossover(sd=1, rho=0.5, treatments=4).power(units, 1) == pytest.approx(share, abs=0.025)


@pytest.mark.parametrize(
    ("collection", "n"),
    [(10, 10), (15, 14), (20, 19), (50, 44), (100, 80), (500, 217), (1000, 278), (5000, 357)],
)
def test_describing_a_collection_against_a_published_table(collection: int, n: int) -> None:
    # Krejcie and Morgan (1970), table 1, which rounds to the nearest.
    assert round(of_a_collection(wald_number(0.5, 0.05), collection)) == n


@pytest.mark.parametrize(
    ("design", "n", "effect"),
    [
        # Computed with another root finder (project's notes, brentq on the noncentral t and F).
        (TwoGroups(sd=1), 6, 1.796),
        (TwoGroups(sd=1), 4, 2.381),
        (OneGroup(sd=1), 6, 1.434),
        (OneGroup(sd=1), 12, 0.889),
        (SeveralGroups(groups=3, sd=1, means=Spread.DEVIATION), 4, 1.069),
    ],
)
def test_the_smallest_effect_that_a_number_finds(design, n: int, effect: float) -> None:
    assert solve(design, n=n, power=0.8).effect == pytest.approx(effect, abs=0.001)


def test_small_groups_where_a_general_solver_finds_no_change_of_sign() -> None:
    # Three groups of two and of three: checked by the noncentral F of scipy at the answer.
    for n in (2, 3):
        f = solve(SeveralGroups(groups=3, sd=1, means=Spread.DEVIATION), n=n, power=0.8).effect
        critical = stats.f.ppf(0.95, 2, 3 * (n - 1))
        assert stats.ncf.sf(critical, 2, 3 * (n - 1), 3 * n * f**2) == pytest.approx(0.8, abs=1e-6)


def test_the_resource_equation_against_worked_examples() -> None:
    # Mead (1988), Festing (2018): four treatments of five; sixteen tanks in four blocks.
    assert error_degrees(20, 4) == 16
    assert error_degrees(16, 4, blocks=4) == 9


def test_widths_against_published_intervals() -> None:
    # Cochran (1977): .5 within .05 at 95 per cent, 385.
    assert math.ceil(wald_number(0.5, 0.05)) == 385
    # Newcombe (1998), table I, method 3: widths of Wilson's intervals.
    for seen, n, low, high in (
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ):
        assert wilson_half_width(n, seen / n) == pytest.approx((high - low) / 2, abs=6e-5)
    # Computed in the project's notes by another search.
    assert [number_for_share(p, 0.1) for p in (0.5, 0.8, 0.95)] == [93, 60, 25]
    assert number_for_mean(0.5, 1) == 18
    low, high = stats.t.interval(0.95, 17, scale=1 / math.sqrt(18))
    assert mean_half_width(18, 1) == pytest.approx((high - low) / 2)


def test_few_animals_against_published_counts() -> None:
    # Edgington and Onghena (2007): AB of 20 sessions, five at least in a phase.
    assert Phases(sessions=20, shortest=5).assignments == 11
    assert reach(11).smallest_p == pytest.approx(0.091, abs=0.0005)
    # Onghena (1992): ABAB of 24 sessions, four at least (from memory).
    assert Phases(sessions=24, phases="ABAB", shortest=4).assignments == 165
    # Counted: six against six; signs of five and of six pairs.
    assert two_arms(6, 6) == 924
    assert reach(2**5, mirrored=True).smallest_p == pytest.approx(0.0625)
    assert reach(2**6, mirrored=True).smallest_p == pytest.approx(0.03125)
    # Edgington (1972): three at .1, and three at 1 / 11.
    assert combined_p([0.1, 0.1, 0.1]) == pytest.approx(0.0045, abs=1e-12)
    assert combined_p([1 / 11] * 3) == pytest.approx(0.0034, abs=5e-5)
    # Above a sum of 1 it is the distribution of a sum of uniform draws.
    draws = np.random.default_rng(3).random((200_000, 3)).sum(axis=1)
    for total in (0.9, 1.5, 2.2):
        found = combined_p([total / 3] * 3)
        assert found == pytest.approx(np.mean(draws <= total), abs=0.004)
