"""What every design of replication must hold, whatever its sum."""

import doctest
import math
from dataclasses import replace
from importlib import import_module

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from registry import design
from registry.design import (
    ChangedPairs,
    Correlation,
    Crossover,
    Design,
    Factorial,
    Follow,
    Followed,
    OneGroup,
    Pairs,
    RankedGroups,
    RankedPairs,
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
    curve,
    offer,
    sensitivity,
    smallest_p,
    solve,
    unconditional_p,
    unconditional_region,
)
from registry.design.tails import _t_below
from registry.errors import Unsound

SMOOTH: dict[str, tuple[Design, float]] = {
    "two groups": (TwoGroups(sd=4), 3),
    "two groups, uneven": (TwoGroups(sd=4, ratio=2), 3),
    "two groups, one side": (TwoGroups(sd=4, sides=1), 3),
    "one group": (OneGroup(sd=4), 3),
    "pairs": (Pairs(sd=4, rho=0.3), 3),
    "several groups": (SeveralGroups(groups=4, sd=4), 5),
    "several groups, even": (SeveralGroups(groups=5, sd=4, means=Spread.EVEN), 5),
    "several groups, halves": (SeveralGroups(groups=5, sd=4, means=Spread.HALVES), 3),
    "factorial, main": (Factorial(sd=4), 3),
    "factorial, interaction": (Factorial(sd=4, levels=(2, 3), of=(0, 1)), 2),
    "tank means": (TankMeans(sd=4, icc=0.2, per_unit=10), 3),
    "tank means, three arms": (TankMeans(sd=4, icc=0.2, per_unit=10, arms=3), 3),
    "tank shares": (TankShares(baseline=0.6, icc=0.1, per_unit=25), 0.2),
    "tank shares, falling": (TankShares(baseline=0.6, icc=0.1, per_unit=25, rises=False), 0.2),
    "followed": (Followed(sd=4, rho=0.5, before=2, after=3), 2),
    "followed, change": (Followed(sd=4, rho=0.7, follow=Follow.CHANGE), 2),
    "followed, after": (Followed(sd=4, rho=0.7, before=0, follow=Follow.AFTER), 3),
    "slopes": (Slopes(sd=4, rho=0.5, times=(0, 7, 14, 28)), 0.2),
    "crossover": (Crossover(sd=4, rho=0.5), 2),
    "crossover, carryover": (Crossover(sd=4, rho=0.5, treatments=4, carryover=True), 2),
    "shares, pooled": (TwoShares(baseline=0.4, by=ShareTest.POOLED), 0.2),
    "shares, corrected": (TwoShares(baseline=0.4, by=ShareTest.CORRECTED), 0.2),
    "shares, arcsine": (TwoShares(baseline=0.4, by=ShareTest.ARCSINE, rises=False), 0.2),
    "changed pairs": (ChangedPairs(discordant=0.4), 0.2),
    "table": (Table(df=3), 0.3),
    "rates": (TwoRates(baseline=3, exposure=2, overdispersion=0.1), 1.5),
    "tank rates": (TankRates(baseline=0.1, watched=100, variation=0.25), 0.5),
    "ranked groups": (RankedGroups(sd=4), 3),
    "ranked pairs": (RankedPairs(sd=4), 3),
    "correlation": (Correlation(), 0.4),
    "waiting": (Waiting(events=0.7), 2),
    "waiting, Freedman": (Waiting(events=0.7, rises=False, by=Wait.FREEDMAN), 0.5),
}
every_design = pytest.mark.parametrize(("asked", "effect"), SMOOTH.values(), ids=SMOOTH)


@every_design
def test_the_three_directions_agree(asked: Design, effect: float) -> None:
    found = solve(asked, effect=effect, power=0.8)
    assert found.power >= 0.8
    assert found.n - 1 < found.unrounded <= found.n
    assert asked.power(found.unrounded, found.effect) == pytest.approx(0.8, abs=1e-6)
    if found.n > asked.lowest:
        assert asked.power(found.n - 1, found.effect) < 0.8
    # n(power(n)) = n
    again = solve(asked, n=found.n, effect=effect)
    assert solve(asked, effect=effect, power=again.power - 1e-9).n == found.n
    least = solve(asked, n=found.n, power=0.8)
    assert least.effect <= found.effect * (1 + 1e-9)
    assert asked.power(found.n, least.effect) == pytest.approx(0.8, abs=1e-6)


@every_design
def test_power_rises_with_number_and_with_effect(asked: Design, effect: float) -> None:
    size = asked.size_of(effect)
    powers = [asked.power(n, size) for n in range(asked.lowest, asked.lowest + 60, 3)]
    assert powers == sorted(powers)
    assert powers[0] < powers[-1]
    top = min(asked.largest(), asked.none + 3 * (size - asked.none))
    effects = [asked.none + (top - asked.none) * share for share in (0.1, 0.3, 0.6, 0.9, 1.0)]
    powers = [asked.power(12, one) for one in effects]
    assert powers == sorted(powers)
    assert all(0 <= one <= 1 for one in powers)


@every_design
def test_nothing_is_ever_not_a_number(asked: Design, effect: float) -> None:
    size = asked.size_of(effect)
    for n in (asked.lowest, 50, 5000, 1_000_000):
        assert math.isfinite(asked.power(n, size))
        assert math.isfinite(asked.power(n, asked.none + (size - asked.none) * 1e-6))
        assert math.isfinite(asked.power(n, min(asked.largest(), size * 1e4)))


@every_design
def test_every_design_says_what_it_assumes_and_where_it_is_from(
    asked: Design, effect: float
) -> None:
    assert all(said.endswith(".") for said in asked.assumed())
    assert asked.assumed()
    assert asked.source
    assert asked.test
    found = solve(asked, effect=effect, power=0.8)
    assert asked.counted in found.said
    assert found.total >= found.n
    assert all(one.source and one.said for one in found.cautions)
    with pytest.raises(Unsound):
        replace(asked, alpha=1.5)


@given(
    sd=st.floats(0.01, 100),
    d=st.floats(0.15, 2.0),
    power=st.floats(0.3, 0.99),
    icc=st.floats(0, 1),
    per_unit=st.integers(1, 50),
)
@settings(max_examples=60, deadline=None)
def test_the_number_for_a_power_is_the_least_that_has_it(
    sd: float, d: float, power: float, icc: float, per_unit: int
) -> None:
    asked = TankMeans(sd=sd, icc=icc, per_unit=per_unit)
    effect = d * asked.sd_units
    n = solve(asked, effect=effect, power=power).n
    assert asked.power(n, effect) >= power > asked.power(n - 1, effect) - 1e-12


@pytest.mark.parametrize(("first", "second", "sides"), [(5, 5, 2), (12, 9, 2), (9, 12, 1)])
def test_the_region_found_by_halving_is_that_of_every_p(
    first: int, second: int, sides: int
) -> None:
    p = unconditional_p(first, second, sides, shares=201)
    for alpha in (0.01, 0.05, 0.1):
        assert (unconditional_region(first, second, alpha, sides) == (p <= alpha)).all()


def test_an_exact_test_takes_steps_and_holds_above_them() -> None:
    asked = TwoShares(baseline=0.2, by=ShareTest.FISHER)
    found = solve(asked, effect=0.5, power=0.8)
    assert all(asked.power(n, 0.5) >= 0.8 for n in range(found.n, found.n + 10))
    assert asked.power(found.n - 1, 0.5) < 0.8
    boschloo = solve(replace(asked, by=ShareTest.BOSCHLOO), effect=0.5, power=0.8)
    assert boschloo.n <= found.n
    assert solve(asked, n=20, power=0.8).effect == pytest.approx(0.47, abs=0.02)


def test_tanks_are_counted_and_never_animals() -> None:
    eight = TankMeans(sd=1, icc=0.2, per_unit=10)
    hundred = replace(eight, per_unit=1000)
    # Ever more animals in a tank end at the variance between tanks.
    assert hundred.power(4, 1) < TwoGroups(sd=math.sqrt(0.2)).power(4, 1)
    assert replace(eight, icc=0).power(4, 1) < TwoGroups(sd=1).power(40, 1)
    assert replace(eight, icc=1).power(4, 1) == pytest.approx(TwoGroups(sd=1).power(4, 1))
    words = [one.word for one in solve(eight, n=3, power=0.8).cautions]
    assert words == ["units, not animals", "no exact test"]
    assert [one.word for one in solve(eight, n=4, power=0.8).cautions] == ["units, not animals"]
    assert smallest_p(2, 3) == pytest.approx(6 / 90)


@pytest.mark.parametrize(
    ("asked", "field", "said"),
    [
        (lambda: TwoGroups(sd=0), "sd", "must be above 0"),
        (lambda: TwoGroups(sd=math.nan), "sd", "not a number"),
        (lambda: TwoGroups(sd=math.inf), "sd", "planned with"),
        (lambda: TwoGroups(sd=10**400), "sd", "planned with"),
        (lambda: TwoGroups(sd="2"), "sd", "not a number"),
        (lambda: TankMeans(sd=1, icc=0.2, per_unit=5, arms=10**6), "arms", "most is 1,000"),
        (lambda: solve(TwoRates(baseline=9, rises=False), effect=0.1, power=0.8), "effect", "8"),
        (lambda: solve(TankRates(baseline=1, watched=1, variation=2), n=2, power=0.9), "n", "not"),
        (lambda: TwoGroups(sd=1, alpha=0), "alpha", "from 0.0001 to 0.25"),
        (lambda: TwoGroups(sd=1, sides=3), "sides", "one side or two"),
        (lambda: TwoGroups(sd=1, ratio=0), "ratio", "from 1 to 10"),
        (lambda: TankMeans(sd=1, icc=1.2, per_unit=5), "icc", "from 0 to 1"),
        (lambda: TankMeans(sd=1, icc=-0.1, per_unit=5), "icc", "from 0 to 1"),
        (lambda: TankMeans(sd=1, icc=0.1, per_unit=0), "per_unit", "at least one animal"),
        (lambda: TankMeans(sd=1, icc=0.1, per_unit=5, arms=1), "arms", "at least 2"),
        (lambda: SeveralGroups(groups=1, sd=1), "groups", "at least 2"),
        (lambda: Factorial(sd=1, of=(2,)), "of", "no such effect"),
        (lambda: Factorial(sd=1, of=(0, 0)), "of", "no such effect"),
        (lambda: Factorial(sd=1, levels=(2, 1)), "levels", "at least 2"),
        (lambda: Slopes(sd=1, rho=0.2, times=(3, 3)), "times", "two times"),
        (lambda: Crossover(sd=1, rho=0.2, carryover=True), "carryover", "two treatments"),
        (lambda: Pairs(sd=1, rho=1), "rho", "above -1 and below 1"),
        (lambda: TwoShares(baseline=0), "baseline", "above 0 and below 1"),
        (lambda: ChangedPairs(discordant=0), "discordant", "above 0"),
        (lambda: Table(df=0), "df", "at least 1"),
        (lambda: TwoRates(baseline=-1), "baseline", "above 0"),
        (lambda: Waiting(events=1.5), "events", "from 0 to 1"),
        (lambda: solve(TwoGroups(sd=1), effect=0, power=0.8), "effect", "effect of 0"),
        (lambda: solve(TwoGroups(sd=1), effect=1, power=1.2), "power", "above 0 and below 1"),
        (lambda: solve(TwoGroups(sd=1), effect=1, power=1), "power", "above 0 and below 1"),
        (lambda: solve(TwoGroups(sd=1), effect=1, power=0.05), "power", "above the significance"),
        (lambda: solve(TwoGroups(sd=1), effect=40, power=0.8), "effect", "fewer than 2"),
        (lambda: solve(TwoGroups(sd=1), effect=8, power=0.8), "effect", "fewer than 2"),
        (lambda: solve(TwoGroups(sd=1), effect=1e-6, power=0.8), "effect", "No number of units"),
        (lambda: solve(TwoGroups(sd=1), n=1, power=0.8), "n", "at least 2"),
        (lambda: solve(TwoGroups(sd=1), n=4.5, power=0.8), "n", "whole number"),
        (lambda: solve(TwoGroups(sd=1), n=4), "n", "Two of the three"),
        (lambda: solve(TwoGroups(sd=1), n=4, effect=1, power=0.8), "n", "Two of the three"),
        (lambda: solve(TwoShares(baseline=0.9), effect=0.2, power=0.8), "effect", "cannot be"),
        (lambda: solve(TwoShares(baseline=0.5), effect=0.02, power=0.8), "by", "counted out"),
        (lambda: solve(TwoShares(baseline=0.9), n=3, power=0.8), "n", "no effect at all"),
        (lambda: solve(Correlation(), effect=1, power=0.8), "effect", "cannot be"),
        (lambda: solve(TwoRates(baseline=1), effect=1, power=0.8), "effect", "ratio of 1"),
        (lambda: solve(TwoRates(baseline=1), effect=-2, power=0.8), "effect", "above 0"),
        (lambda: curve(TwoGroups(sd=1), effect=1, numbers=[1]), "n", "at least 2"),
        (lambda: offer(TwoGroups(sd=1), effect=1, available=-1), "available", "at least 0"),
    ],
)
def test_what_cannot_be_is_refused_in_three_sentences(asked, field: str, said: str) -> None:
    with pytest.raises(Unsound) as refused:
        asked()
    assert field in refused.value.fields
    assert said in f"{refused.value.what} {refused.value.why}"
    assert all(one.endswith((".", "?")) for one in (refused.value.what, refused.value.why))
    assert refused.value.next.endswith(".")
    assert "nan" not in str(refused.value).lower().replace("given as 'nan'", "")


def test_one_unit_in_an_arm_is_told_why_it_is_no_replication() -> None:
    with pytest.raises(Unsound, match="cannot tell the treatment from the unit"):
        solve(TankMeans(sd=1, icc=0.2, per_unit=40), n=1, power=0.8)


def test_what_would_change_the_answer_is_said() -> None:
    found = solve(TankMeans(sd=1, icc=0.2, per_unit=15), effect=0.8, power=0.8)
    rows = {(one.field, round(one.value, 2)): one for one in sensitivity(found)}
    assert set(rows) == {("sd", 0.75), ("sd", 1.25), ("icc", 0.1), ("icc", 0.4)}
    assert rows["sd", 0.75].n < found.n < rows["sd", 1.25].n
    assert rows["icc", 0.1].power > found.power > rows["icc", 0.4].power
    # Twice an ICC of .6 cannot be, and is left out.
    high = solve(TankMeans(sd=1, icc=0.6, per_unit=15), effect=0.8, power=0.8)
    assert ("icc", 0.3) in {(one.field, one.value) for one in sensitivity(high)}
    assert len(sensitivity(high)) == 3


def test_a_collection_that_is_too_small_is_told_what_it_can_find() -> None:
    found = offer(TwoGroups(sd=1), effect=1.2, available=12)
    assert not found.is_enough
    assert "You need 24, and can have 12." in found.said
    assert found.detectable == pytest.approx(1.796, abs=0.001)
    assert any("pool 2 cohorts" in said for said in found.said)
    assert offer(TwoGroups(sd=1), effect=1.2, available=24).is_enough
    none = offer(TwoGroups(sd=1), effect=1.2, available=3)
    assert none.power is None
    assert none.detectable is None
    assert any("no such test" in said for said in none.said)
    assert offer(TwoGroups(sd=1), effect=1.2, available=0).cohorts is None
    related = offer(TwoGroups(sd=1), effect=1.2, available=24, worth=12)
    assert (related.is_enough, related.cohorts, related.detectable) == (False, 2, found.detectable)
    assert any("count as 12 unrelated ones" in said for said in related.said)


@pytest.mark.parametrize("df", [1, 2, 6, 40])
@pytest.mark.parametrize("shift", [29.5, 30, 35])
def test_the_tail_far_out_is_the_librarys_where_that_still_answers(df: int, shift: float) -> None:
    for critical in (shift / 2, shift, 2 * shift):
        library = special.nctdtr(df, shift, critical)
        assert _t_below(critical, df, shift) == pytest.approx(library, abs=1e-7)
    assert _t_below(1e4, df, 1e7) == pytest.approx(0, abs=1e-3)
    assert _t_below(4, 1000, 1e7) == 0


def test_every_public_name_is_there_and_its_module_loads_when_asked() -> None:
    for name in design.FOUND_IN:
        assert getattr(design, name) is not None
    assert set(design.FOUND_IN) <= set(dir(design))
    with pytest.raises(AttributeError, match="no 'nothing'"):
        _ = design.nothing


@pytest.mark.parametrize("module", sorted(set(design.FOUND_IN.values())))
def test_the_examples_run(module: str) -> None:
    assert doctest.testmod(import_module(module)).failed == 0
