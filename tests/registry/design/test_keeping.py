"""A sum that a plan keeps is made again from what it was given, and comes out the same."""

import doctest
import json
from typing import Any

import pytest

from registry import design
from registry.design import keeping
from registry.design.allocation import asking as allocation_asking
from registry.design.allocation import reaching
from registry.design.schedules import asking as schedule_asking
from registry.errors import Unsound
from tests.registry.design.test_sizes import SMOOTH

SEED = "00" * 32
SCHEDULED = {
    "animals": ["Moss", "Fern"],
    "days": ["2026-05-04", "2026-05-05"],
    "slots": [["10:00", "quiet"], ["14:00", "busy"]],
    "length_min": 30,
    "seed": SEED,
    "busy": [{"begins": "2026-05-04T10:10:00", "ends": "2026-05-04T10:20:00", "what": "feeding"}],
}


@pytest.mark.parametrize("module", [keeping, allocation_asking, reaching, schedule_asking])
def test_the_examples_hold(module: Any) -> None:
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize(("made", "effect"), SMOOTH.values(), ids=SMOOTH)
def test_every_design_is_kept_in_plain_facts_and_made_again(made: Any, effect: float) -> None:
    kept = json.loads(json.dumps(design.plain(made, n=12, effect=effect)))
    again = design.sized(kept)
    assert again.design == made
    assert again.power == design.solve(made, n=12, effect=effect).power


def test_a_schedule_is_drawn_again_around_what_is_on() -> None:
    kept = design.reckoned("schedule", SCHEDULED)
    assert kept == design.reckoned("schedule", json.loads(json.dumps(SCHEDULED)))
    assert len(kept.told["sessions"]) == 3
    assert kept.told["left_out"] == ["Monday 2026-05-04, 10:00 quiet: feeding from 10:10 to 10:20."]
    assert kept.said.startswith("3 sessions of 30 minutes on 2 days")


def test_a_simulation_is_drawn_again_from_its_seed() -> None:
    asked = {
        "means": [0, 1], "units": 4, "per_unit": 10, "icc": 0.2, "outcome": "measure",
        "analysis": "unit_t", "runs": 500, "seed": 7, "alpha": 0.05,
    }  # fmt: skip
    assert design.reckoned("simulation", asked) == design.reckoned("simulation", asked)
    assert "power 0." in design.reckoned("simulation", asked).said


@pytest.mark.parametrize("method", design.METHODS)
def test_every_method_of_allocation_refuses_what_it_lacks(method: str) -> None:
    with pytest.raises(Unsound, match="This method needs"):
        design.allocate({"method": method, "arms": ["x", "y"]}, design.Stream(bytes(32)))


def test_what_is_none_of_ours_is_refused_in_words() -> None:
    with pytest.raises(Unsound, match="no such design"):
        design.sized({"design": "Nothing", "values": {}})
    with pytest.raises(Unsound, match="no such method"):
        design.allocate({"method": "coin", "arms": ["x", "y"]}, design.Stream(bytes(32)))


def test_an_allocation_in_a_plan_says_nothing_of_who_gets_what() -> None:
    given = {"method": "complete", "arms": ["x", "y"], "units": ["a", "b", "c", "d"]}
    kept = design.reckoned("allocation", given)
    assert kept.said == "4 units by complete randomisation: x 2, y 2."
    assert set(kept.told) == {"method", "units", "notes"}


def test_the_smallest_p_of_a_draw_is_said_with_it() -> None:
    # Edgington and Onghena (2007): 6 and 6 units have 924 arrangements, 3 and 3 have 20.
    def kept(**given: Any) -> str:
        found = design.reckoned("allocation", {"arms": ["x", "y"], **given})
        return str(found.told["notes"][-1])

    twelve = [f"T{n}" for n in range(12)]
    assert "924 admissible assignments, smallest p 0.0022." in kept(method="complete", units=twelve)
    six = kept(method="complete", units=twelve[:6])
    assert "20 admissible assignments, smallest p 0.1000: above 0.05" in six
    # Three pairs of tanks: 2³ ways, mirrored.
    pairs = {str(n): twelve[2 * n : 2 * n + 2] for n in range(3)}
    assert "8 admissible assignments, smallest p 0.2500" in kept(method="blocked", blocks=pairs)
    # Uneven arms have no mirror image.
    assert "10 admissible assignments, smallest p 0.1000" in kept(
        method="complete", units=twelve[:5]
    )
    many = design.complete([str(n) for n in range(60)], ["x", "y"], design.Stream(bytes(32)))
    assert design.draw_reach(many) is None
