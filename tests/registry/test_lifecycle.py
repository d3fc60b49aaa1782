"""The lifecycle's table, by itself."""

import dataclasses

import pytest

from registry.errors import Conflict
from registry.lifecycle import Lifecycle

LAMP = Lifecycle(
    kind="lamp",
    first="off",
    steps={("off", "light"): "on", ("on", "put_out"): "off", ("on", "clean"): "on"},
    reasons=frozenset({"put_out"}),
)


def test_what_follows_is_read_from_the_table() -> None:
    assert LAMP.after("off", "light") == "on"
    assert LAMP.after("on", "clean") == "on"
    assert LAMP.states == ("off", "on")
    assert LAMP.verbs_from("on") == ("put_out", "clean")
    assert LAMP.states_before("put_out") == ("on",)
    assert LAMP.choices == [("off", "off"), ("on", "on")]


def test_what_cannot_be_done_now_is_refused_with_the_state_and_when_it_could() -> None:
    with pytest.raises(Conflict) as refused:
        LAMP.after("off", "put_out")
    assert refused.value.status == 409
    assert "put out" in refused.value.what
    assert "It is off now" in refused.value.why
    assert "only when it is on" in refused.value.why


def test_a_verb_that_the_table_does_not_know_is_refused_too() -> None:
    with pytest.raises(Conflict, match="no state"):
        LAMP.after("off", "eat")


def test_the_table_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        LAMP.steps["off", "eat"] = "on"  # type: ignore[index]
    with pytest.raises(dataclasses.FrozenInstanceError):
        LAMP.first = "on"  # type: ignore[misc]
