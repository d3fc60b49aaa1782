"""Trials against published values and references; the source stands beside each check.

“From memory” is a value recalled, confirmed by the sum agreeing alone.
"""

import numpy as np
import pytest
from scipy import integrate, stats
from statsmodels.duration.survfunc import SurvfuncRight, survdiff
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM

from archive.analysis import (
    Curve,
    beta_binomial,
    condition,
    degree_days,
    dose_response,
    exact_share,
    feed_conversion,
    fit_curve,
    fitted_q10,
    greenwood_error,
    growth_rate,
    length_weight,
    log_rank,
    log_rank_scores,
    logit_fit,
    q10,
    spread_of_shares,
    survival,
    thermal_growth,
)
from registry.animals.hatching import wilson

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    ("seen", "of", "score", "exact"),
    # Newcombe (1998), Statistics in Medicine 17, 857–872, table I, methods 3 and 5.
    [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_intervals_of_shares_against_a_table(seen: int, of: int, score: tuple, exact) -> None:
    for found, said in ((wilson(seen, of), score), (exact_share(seen, of), exact)):
        assert (found.low, found.high) == pytest.approx(said, abs=5e-5)


# Freireich et al. (1963), remission of leukaemia in weeks; Kalbfleisch and Prentice; Gehan's data.
TREATED = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
CONTROL = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
ENDED = [True] * 9 + [False] * 12


def test_the_curve_of_kaplan_and_meier_against_a_textbook() -> None:
    # Shares .857 .807 .753 .690 .627 .538 .448; medians 23 and 8.
    found = survival(TREATED, ENDED)
    assert found.times == (6, 7, 10, 13, 16, 22, 23)
    assert found.share == pytest.approx((0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448), abs=5e-4)
    assert (found.median, survival(CONTROL, [True] * 21).median) == (23, 8)
    # Greenwood's errors, from memory of the same textbooks: .0764 at 6 weeks, .1346 at 23.
    assert greenwood_error(found, 6) == pytest.approx(0.0764, abs=5e-5)
    # Independent: statsmodels.
    theirs = SurvfuncRight(np.array(TREATED, float), np.array(ENDED, int))
    assert [greenwood_error(found, one) for one in found.times] == pytest.approx(
        list(theirs.surv_prob_se)
    )


def test_the_log_rank_test_against_a_textbook() -> None:
    # Kalbfleisch and Prentice; R's survdiff: 16.79, p 4.17e-5.
    time, happened = [*TREATED, *CONTROL], [*ENDED, *[True] * 21]
    group = ["6-MP"] * 21 + ["control"] * 21
    found = log_rank(time, happened, group)
    assert found.chi2 == pytest.approx(16.79, abs=0.005)
    assert found.p == pytest.approx(4.17e-5, abs=5e-8)
    # The scores of the animals add up to seen less expected.
    scores = log_rank_scores(time, happened)
    assert scores[:21].sum() == pytest.approx(found.seen[0] - found.expected[0])
    # Independent, three groups: statsmodels.
    three = [["a", "b", "c"][place % 3] for place in range(42)]
    theirs = survdiff(np.array(time, float), np.array(happened, int), np.array(three))
    ours = log_rank(time, happened, three)
    assert (ours.chi2, ours.p) == pytest.approx((theirs[0], theirs[1]))


@pytest.mark.parametrize(
    ("low", "high", "said"), [(10, 24, 5.326), (5, 15, 0.7207), (13, 20, 4.5), (2, 9, 0.0)]
)
def test_degree_days_are_the_integral_of_the_sine(low: float, high: float, said: float) -> None:
    # Baskerville and Emin (1969), an identity; a simple mean would give 5.0 for the first.
    def above(hour: float) -> float:
        wave = (high + low) / 2 + (high - low) / 2 * np.sin(2 * np.pi * hour / 24)
        return max(0.0, wave - 12) / 24

    found = degree_days([low], [high], 12)[0]
    assert found == pytest.approx(said, abs=5e-4)
    assert found == pytest.approx(integrate.quad(above, 0, 24, limit=500)[0], abs=1e-4)


def test_plain_formulae_by_hand() -> None:
    # Ricker (1979): ln 2 / 35. Fulton: 250 g, 27 cm. Feed over gain. van ’t Hoff. Cho (1992).
    assert growth_rate(10, 20, 35) == pytest.approx(1.9804, abs=5e-5)
    assert condition([250], [27])[0] == pytest.approx(1.2701, abs=5e-5)
    assert feed_conversion(150, 100) == 1.5
    assert q10(2, 15, 5, 25) == 2.5
    # 10 g to 20 g, 35 days of 8 °C: 1000 (2.71442 − 2.15443) / 280 = 2.0000 (by hand).
    assert thermal_growth(10, 20, 280) == pytest.approx(1.99995, abs=5e-5)


def test_length_and_weight_against_a_reference_library() -> None:
    # Independent: scipy.stats.linregress on logarithms.
    draws = np.random.default_rng(14)
    length = draws.uniform(10, 45, 56)
    mass = 0.008 * length**3.16 * np.exp(draws.normal(0, 0.1, 56))
    theirs = stats.linregress(np.log(length), np.log(mass))
    found = length_weight(length, mass)
    half = stats.t.ppf(0.975, 54) * theirs.stderr
    assert (found.b.value, found.b.low, found.b.high) == pytest.approx(
        (theirs.slope, theirs.slope - half, theirs.slope + half)
    )
    assert found.a == pytest.approx(np.exp(theirs.intercept))
    assert found.r2 == pytest.approx(theirs.rvalue**2)


AGES = [1.0, 2.0, 3.3, 4.3, 5.3, 6.3, 7.3, 8.3, 9.3, 10.3, 11.3, 12.3, 13.3]
FEMALES = [
    15.40,
    28.03,
    41.18,
    46.20,
    48.23,
    50.26,
    51.82,
    54.27,
    56.98,
    58.93,
    59.00,
    60.91,
    61.83,
]
MALES = [15.40, 26.93, 42.23, 44.59, 47.63, 49.67, 50.87, 52.30, 54.77, 56.43, 55.88]


def test_growth_to_a_limit_against_a_paper() -> None:
    # Kimura (1980), Fishery Bulletin 77, 765–776, Pacific hake, data and values from memory:
    # females 61.23 .2963 −.0573, males 55.98 .3856 .1713.
    for lengths, said in (
        (FEMALES, (61.23, 0.2963, -0.0573)),
        (MALES, (55.98, 0.3856, 0.1713)),
    ):
        found = fit_curve(Curve.VON_BERTALANFFY, AGES[: len(lengths)], lengths).values
        values = [found[name].value for name in ("limit", "rate", "start")]
        assert values == pytest.approx(said, abs=0.005)
        assert values[1:] == pytest.approx(said[1:], abs=5e-5)


def test_a_logistic_curve_against_the_example_of_a_statistics_system() -> None:
    # R's documentation of ChickWeight, chick 1: 937.03, 35.223, 11.405.
    days = [0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 21]
    grams = [42, 51, 59, 64, 76, 93, 106, 125, 149, 171, 199, 205]
    found = fit_curve(Curve.LOGISTIC, days, grams).values
    assert found["limit"].value == pytest.approx(937.03, abs=0.1)
    assert found["middle"].value == pytest.approx(35.223, abs=0.005)
    assert found["scale"].value == pytest.approx(11.405, abs=0.001)


def test_a_saturating_curve_against_a_textbook() -> None:
    # Bates and Watts (1988), Puromycin, treated: 212.68 (6.947), .06412 (.00828).
    at = [0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.10, 1.10]
    rate = [76, 47, 97, 107, 123, 139, 159, 152, 191, 201, 207, 200]
    found = fit_curve(Curve.SATURATING, at, rate)
    limit, half = found.values["limit"], found.values["half"]
    assert (limit.value, half.value) == pytest.approx((212.68, 0.06412), abs=0.005)
    quantile = stats.t.ppf(0.975, 10)
    assert (limit.high - limit.value) / quantile == pytest.approx(6.947, abs=0.005)
    assert (half.high - half.value) / quantile == pytest.approx(0.00828, abs=5e-6)
    assert found.df == 10


MOTHS = [1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16]


def test_a_dose_response_against_a_textbook() -> None:
    # Venables and Ripley, MASS, 4th ed., p. 192, tobacco budworm, males and females:
    # −3.4732, 1.1007, 1.0642 for log2 of the dose; deviance 6.757 on 9.
    male = np.repeat([1.0, 0.0], 6)
    x = np.column_stack([np.ones(12), male, np.tile(np.arange(6.0), 2)])
    found = logit_fit(x, MOTHS, [20] * 12, spread=False)
    assert found.values == pytest.approx([-3.4732, 1.1007, 1.0642], abs=5e-5)
    assert (found.deviance, found.df) == (pytest.approx(6.757, abs=5e-4), 9)
    # Independent: a fit of statsmodels, its errors, and Fieller's equation for the dose of half.
    doses, seen = 2 ** np.arange(6.0), np.array(MOTHS[:6])
    ours = dose_response(doses, seen, [20] * 6, spread=False)
    x = np.column_stack([np.ones(6), np.log(doses)])
    theirs = GLM(np.column_stack([seen, 20 - seen]), x, family=Binomial()).fit()
    assert ours.slope.value == pytest.approx(theirs.params[1])
    assert ours.half.value == pytest.approx(np.exp(-theirs.params[0] / theirs.params[1]))
    covariance = theirs.cov_params()
    for end in (ours.half.low, ours.half.high):
        row = np.array([1, np.log(end)])
        z = row @ theirs.params / np.sqrt(row @ covariance @ row)
        assert abs(z) == pytest.approx(1.959964, abs=1e-5)


def test_the_spread_between_litters_against_a_paper() -> None:
    # Weil (1970), pups that lived, data from memory: Pearson's chi-square 19.0 and 61.6 on 15;
    # beta-binomial .898 with a correlation of .020, and .740 with .317 (the project's notes).
    control = [13, 12, 9, 9, 8, 8, 12, 11, 9, 9, 8, 11, 4, 5, 7, 7]
    control_of = [13, 12, 9, 9, 8, 8, 13, 12, 10, 10, 9, 13, 5, 7, 10, 10]
    treated = [12, 11, 10, 9, 10, 9, 9, 8, 8, 4, 7, 4, 5, 3, 3, 0]
    treated_of = [12, 11, 10, 9, 11, 10, 10, 9, 9, 5, 9, 7, 10, 6, 10, 7]
    assert spread_of_shares(control, control_of) == (pytest.approx(19.0, abs=0.05), 15)
    assert spread_of_shares(treated, treated_of) == (pytest.approx(61.6, abs=0.05), 15)
    for seen, of, share, alike in (
        (control, control_of, 0.898, 0.020),
        (treated, treated_of, 0.740, 0.317),
    ):
        found = beta_binomial(seen, of)
        assert (found.share, found.correlation) == pytest.approx((share, alike), abs=6e-4)

        # Independent: the likelihood by scipy.stats, no better on any side.
        def likelihood(p: float, rho: float, seen: list = seen, of: list = of) -> float:
            total = 1 / rho - 1
            return float(stats.betabinom.logpmf(seen, of, p * total, (1 - p) * total).sum())

        best = likelihood(found.share, found.correlation)
        assert best == pytest.approx(found.likelihood)
        for p, rho in ((0.01, 0), (-0.01, 0), (0, 0.01), (0, -0.01)):
            assert likelihood(found.share + p, found.correlation + rho) < best


def test_q10_of_crickets() -> None:
    # Walker (1962), as the Handbook of Biological Statistics prints them; data from memory. Q10
    # 1.684 (1.616, 1.755), the project's notes, species with a level each.
    exclamationis = [20.8, 20.8, 24, 24, 24, 24, 26.2, 26.2, 26.2, 26.2, 28.4, 29, 30.4, 30.4]
    niveus = [17.2, 18.3, 18.3, 18.3, 18.9, 18.9, 20.4, 21, 21, 22.1, 23.5, 24.2]
    niveus += [25.9, 26.5, 26.5, 26.5, 28.6]
    rate = [67.9, 65.1, 77.3, 78.7, 79.4, 80.4, 85.8, 86.6, 87.5, 89.1, 98.6, 100.8, 99.3, 101.7]
    rate += [44.3, 47.2, 47.6, 49.6, 50.3, 51.8, 60, 58.5, 58.9, 60.7, 69.8, 70.9]
    rate += [76.2, 76.1, 77, 77.7, 84.7]
    found = fitted_q10(rate, exclamationis + niveus, [0] * 14 + [1] * 17)
    assert (found.value, found.low, found.high) == pytest.approx((1.684, 1.616, 1.755), abs=0.0015)
