"""Simulation: drawn again it is the same, and analyses do what their names say."""

import numpy as np
import pytest
from scipy import stats

from registry.design import (
    Analysis,
    Outcome,
    Phases,
    PhaseStudy,
    Rate,
    Study,
    TwoGroups,
    estimate,
    logit_spread,
    simulate,
    simulate_phases,
)
from registry.design.simulating.analyses import rejects
from registry.design.simulating.chance import STREAM, Chance
from registry.errors import Unsound

TANKS = Study(means=[0, 1], units=4, per_unit=10, icc=0.2)


def test_a_recorded_seed_draws_the_same_studies_again() -> None:
    one, other = (simulate(TANKS, Analysis.UNIT_T, runs=500, seed=9) for _ in range(2))
    assert (one.power, one.type_one) == (other.power, other.type_one)
    assert simulate(TANKS, Analysis.UNIT_T, runs=500, seed=10).power != one.power
    assert one.seed == 9
    assert one.stream == STREAM
    # Pinned: the words of PCG64, the first three of seed 12345.
    words = np.random.PCG64(12345).random_raw(3)
    assert Chance(12345).uniform(3) == pytest.approx((words >> np.uint64(11)) * 2.0**-53)


def test_batches_do_not_change_the_answer_beyond_its_error() -> None:
    large = Study(means=[0, 1], units=4, per_unit=2000, icc=0.2)
    found = simulate(large, Analysis.ANIMAL_T, runs=200, seed=3)
    assert found.power.runs == 200
    assert found.type_one.share > 0.7


def test_numbers_have_the_distributions_that_they_are_asked_for() -> None:
    chance = Chance(5)
    assert stats.kstest(chance.normal(20_000), "norm").pvalue > 0.001
    counts = chance.poisson(np.full(20_000, 2.3))
    assert (
        stats.chisquare(
            np.bincount(np.minimum(counts, 7).astype(int), minlength=8),
            20_000 * np.append(stats.poisson.pmf(range(7), 2.3), stats.poisson.sf(6, 2.3)),
        ).pvalue
        > 0.001
    )
    assert set(chance.below(3, 500).tolist()) == {0, 1, 2}


def test_what_is_drawn_has_the_spread_and_the_icc_that_were_asked() -> None:
    study = Study(means=[5, 5], units=200, per_unit=8, sd=3, icc=0.3)
    drawn = study.drawn(Chance(1), 4).reshape(-1, 8)
    found = estimate(drawn.ravel().tolist(), np.repeat(np.arange(len(drawn)), 8).tolist())
    assert found.icc == pytest.approx(0.3, abs=0.05)
    assert found.sd == pytest.approx(3, abs=0.1)
    assert found.mean == pytest.approx(5, abs=0.15)
    eggs = (
        Study(
            means=[0.6, 0.6],
            units=300,
            per_unit=20,
            outcome=Outcome.SHARE,
            sd_units=logit_spread(0.6, 0.1),
        )
        .drawn(Chance(2), 4)
        .reshape(-1, 20)
    )
    found = estimate(eggs.ravel().tolist(), np.repeat(np.arange(len(eggs)), 20).tolist())
    assert found.icc == pytest.approx(0.1, abs=0.03)
    counts = Study(means=[4, 8], units=500, outcome=Outcome.COUNT, sd_units=0.4).drawn(
        Chance(3), 10
    )
    assert counts.mean(axis=(0, 2, 3)) == pytest.approx([4, 8], rel=0.05)
    assert counts[:, 0].var() > 1.5 * 4


@pytest.mark.parametrize(
    ("analysis", "other"),
    [
        (Analysis.UNIT_T, lambda a, b: stats.ttest_ind(a, b, axis=1).pvalue),
        (Analysis.UNIT_WELCH, lambda a, b: stats.ttest_ind(a, b, axis=1, equal_var=False).pvalue),
        (Analysis.BLOCK_T, lambda a, b: stats.ttest_rel(a, b, axis=1).pvalue),
        (Analysis.UNIT_F, lambda a, b: stats.f_oneway(a, b, axis=1).pvalue),
        (Analysis.UNIT_RANKS, lambda a, b: stats.mannwhitneyu(a, b, axis=1, method="exact").pvalue),
    ],
)
def test_an_analysis_rejects_where_another_library_does(analysis, other) -> None:
    studies = Study(means=[0, 1], units=5, per_unit=6, icc=0.3).drawn(Chance(8), 400)
    means = studies.mean(axis=3)
    theirs = other(means[:, 0], means[:, 1]) <= 0.05
    assert (rejects(studies, analysis, 0.05, Chance(1)) == theirs).all()
    assert 0 < theirs.mean() < 1


def test_permutations_are_exact_where_another_library_lists_them() -> None:
    studies = Study(means=[0, 1.5], units=4).drawn(Chance(8), 40)

    def apart(a, b, axis):
        return np.mean(a, axis=axis) - np.mean(b, axis=axis)

    for analysis, kind in (
        (Analysis.UNIT_PERMUTATION, "independent"),
        (Analysis.BLOCK_SIGNS, "samples"),
    ):
        theirs = [
            stats.permutation_test(
                (one[0, :, 0], one[1, :, 0]), apart, permutation_type=kind, n_resamples=np.inf
            ).pvalue
            for one in studies
        ]
        for alpha in (0.05, 0.15):
            ours = rejects(studies, analysis, alpha, Chance(1))
            assert ours.tolist() == [p <= alpha + 1e-9 for p in theirs]


def test_too_many_arrangements_are_drawn_from() -> None:
    study = Study(means=[0, 1], units=20)
    exact = TwoGroups(sd=1).power(20, 1)
    for analysis in (Analysis.UNIT_PERMUTATION, Analysis.UNIT_RANKS):
        found = simulate(study, analysis, runs=600, seed=2)
        assert found.power.share == pytest.approx(exact, abs=0.06)
    paired = simulate(study, Analysis.BLOCK_SIGNS, runs=600, seed=2)
    assert paired.type_one.share < 0.09


def test_means_drawn_as_such_are_like_means_of_drawn_animals() -> None:
    study = Study(means=[0, 1], units=5, per_unit=7, sd=2, icc=0.3, sd_blocks=0.5)
    whole = study.drawn(Chance(1), 4000).mean(axis=3)
    short = study.of_unit_means().drawn(Chance(2), 4000)[..., 0]
    assert short.var() == pytest.approx(whole.var(), rel=0.05)
    for one, other in ((whole, short), (whole[:, 0], short[:, 0])):
        assert stats.ks_2samp(one.ravel()[::7], other.ravel()[::7]).pvalue > 0.001
    eggs = Study(means=[0.5, 0.6], units=5, per_unit=7, outcome=Outcome.SHARE)
    assert eggs.of_unit_means() is eggs


def test_blocks_take_out_what_they_share() -> None:
    study = Study(means=[0, 1], units=8, per_unit=5, icc=0.1, sd_blocks=2)
    inside = simulate(study, Analysis.BLOCK_T, runs=2000).power.share
    across = simulate(study, Analysis.UNIT_T, runs=2000).power.share
    assert inside > across + 0.3


def test_counts_are_not_poisson_where_tanks_differ() -> None:
    study = Study(means=[10, 10], units=6, outcome=Outcome.COUNT, sd_units=0.5)
    wrong = simulate(study, Analysis.COUNT_Z, runs=2000)
    assert wrong.type_one.share > 0.2
    assert [one.word for one in wrong.cautions] == ["pseudoreplicated"]
    right = simulate(study, Analysis.UNIT_T, runs=2000)
    assert right.type_one.share == pytest.approx(0.05, abs=0.02)
    assert right.cautions == ()


def test_a_test_that_cannot_reject_is_told() -> None:
    three = Study(means=[0, 5], units=3)
    found = simulate(three, Analysis.UNIT_PERMUTATION, runs=200)
    assert found.power.share == 0
    assert [one.word for one in found.cautions] == ["cannot reject"]


def test_a_rate_says_its_error() -> None:
    rate = Rate(50, 1000)
    assert rate.error == pytest.approx(0.00689, abs=1e-5)
    # Wilson's interval by another library.
    other = stats.binomtest(50, 1000).proportion_ci(method="wilson")
    assert rate.interval == pytest.approx((other.low, other.high))
    assert Rate(0, 100).interval[0] == pytest.approx(0, abs=1e-12)
    assert "±" in rate.said


def test_one_animal_in_phases_is_judged_by_its_own_draws() -> None:
    design = Phases(sessions=24, phases="ABAB", shortest=4)
    for autocorrelation in (0.0, 0.5):
        study = PhaseStudy(phases=design, effect=1.5, sd=1, autocorrelation=autocorrelation)
        power, none = simulate_phases(study, runs=4000)
        assert none.share == pytest.approx(8 / 165, abs=4 * none.error)
        assert power.share > 0.5
    alone, _ = simulate_phases(PhaseStudy(phases=design, effect=1.5, sd=1), runs=4000)
    like, _ = simulate_phases(
        PhaseStudy(phases=design, effect=1.5, sd=1, autocorrelation=0.5), runs=4000
    )
    assert like.share < alone.share


@pytest.mark.parametrize(
    ("asked", "field", "said"),
    [
        (lambda: Study(means=[0], units=4), "means", "at least 2"),
        (lambda: Study(means=[0, 1], units=1), "units", "at least 2"),
        (lambda: Study(means=[0, 1], units=4, per_unit=0), "per_unit", "at least 1"),
        (lambda: Study(means=[0, 1], units=4, sd=0), "sd", "above 0"),
        (lambda: Study(means=[0, 1], units=4, icc=2), "icc", "from 0 to 1"),
        (lambda: Study(means=[0, 1], units=4, sd_blocks=-1), "sd_blocks", "above 0"),
        (lambda: Study(means=[0.2, 1.2], units=4, outcome=Outcome.SHARE), "means", "below 1"),
        (lambda: Study(means=[2, -1], units=4, outcome=Outcome.COUNT), "means", "above 0"),
        (lambda: simulate(TANKS, Analysis.UNIT_T, runs=10), "runs", "at least 100"),
        (lambda: simulate(TANKS, Analysis.UNIT_T, seed=-1), "seed", "at least 0"),
        (lambda: simulate(TANKS, Analysis.UNIT_T, seed=2**64), "seed", "planned with"),
        (lambda: simulate(TANKS, Analysis.UNIT_T, runs=10**7), "runs", "cannot be drawn"),
        (lambda: simulate(TANKS, Analysis.QUASI_T), "analysis", "does not fit"),
        (lambda: simulate(TANKS, Analysis.COUNT_Z), "analysis", "does not fit"),
        (
            lambda: simulate(Study(means=[0, 1, 2], units=4), Analysis.UNIT_T),
            "analysis",
            "compares two arms",
        ),
        (
            lambda: simulate_phases(
                PhaseStudy(phases=Phases(sessions=20, shortest=5), effect=1, sd=1)
            ),
            "phases",
            "can never reject",
        ),
        (
            lambda: simulate_phases(
                PhaseStudy(phases=Phases(sessions=60, phases="ABAB", shortest=3), effect=1, sd=1)
            ),
            "phases",
            "too many",
        ),
        (
            lambda: PhaseStudy(phases=Phases(sessions=20, phases="ABC"), effect=1, sd=1),
            "phases",
            "Two kinds",
        ),
        (lambda: estimate([1.0], ["a", "b"]), "values", "one length"),
        (lambda: estimate([None, None], ["a", "b"]), "values", "No row"),
        (lambda: estimate([1.0, 2.0], ["a", "b"]), "units", "cannot both"),
        (lambda: estimate([1.0, 1.0, 1.0, 1.0], ["a", "a", "b", "b"]), "values", "Nothing varies"),
    ],
)
def test_what_cannot_be_simulated_or_estimated_is_refused_in_sentences(
    asked, field: str, said: str
) -> None:
    with pytest.raises(Unsound) as refused:
        asked()
    assert field in refused.value.fields
    assert said in str(refused.value)


def test_an_effect_of_the_arms_does_not_count_as_spread() -> None:
    draws = np.random.default_rng(6)
    units = np.repeat(np.arange(40), 6)
    arms = (units < 20).tolist()
    own = draws.normal(0, 1, 40)[units] + draws.normal(0, 2, 240)
    plain = estimate((own + 10 * np.array(arms)).tolist(), units.tolist())
    known = estimate((own + 10 * np.array(arms)).tolist(), units.tolist(), arms=arms, source="v1")
    assert plain.sd > 4
    assert known.sd == pytest.approx(5**0.5, abs=0.4)
    assert "from v1" in known.said


def test_a_value_that_resembles_the_one_before_it_is_seen() -> None:
    draws = np.random.default_rng(1)
    series = draws.normal(size=(30, 100))
    for n in range(1, 100):
        series[:, n] = 0.6 * series[:, n - 1] + 0.8 * series[:, n]
    found = estimate(series.ravel().tolist(), np.repeat(np.arange(30), 100).tolist())
    assert found.lag_one == pytest.approx(0.6, abs=0.05)
    assert estimate([1.0, 2.0, 4.0, 4.5], ["a", "a", "b", "b"]).lag_one is None
