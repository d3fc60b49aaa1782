"""Each lifecycle is whole, and speaks of the same verbs as the table of permissions."""

import pytest
from django.apps import apps
from django.db.models import Model

from registry.lifecycle import Lifecycle
from registry.permissions import FROM_NOTHING, Verb, is_look, kind_of, verbs_of

LIVING = [model for model in apps.get_models() if hasattr(model, "lifecycle")]
pytestmark = pytest.mark.parametrize("model", LIVING, ids=lambda model: model.__name__)


def lifecycle_of(model: type[Model]) -> Lifecycle:
    found: Lifecycle = model.lifecycle  # type: ignore[attr-defined]
    return found


def test_every_state_can_be_reached(model: type[Model]) -> None:
    lifecycle = lifecycle_of(model)
    reached, waiting = {lifecycle.first}, [lifecycle.first]
    while waiting:
        here = waiting.pop()
        for verb in lifecycle.verbs_from(here):
            after = lifecycle.after(here, verb)
            if after not in reached:
                reached.add(after)
                waiting.append(after)
    assert reached == set(lifecycle.states)


def test_every_verb_of_it_stands_in_the_table_of_permissions(model: type[Model]) -> None:
    kind = kind_of(model)
    for _, verb in lifecycle_of(model).steps:
        assert f"{kind}.{verb}" in Verb.values


def test_every_deed_on_such_an_object_has_a_state_in_which_it_is_open(model: type[Model]) -> None:
    done = {verb for _, verb in lifecycle_of(model).steps}
    for verb in verbs_of(model):
        assert verb.split(".")[1] in done, f"{verb} is never open"


def test_a_verb_that_makes_or_looks_is_no_step(model: type[Model]) -> None:
    kind = kind_of(model)
    for _, name in lifecycle_of(model).steps:
        verb = Verb(f"{kind}.{name}")
        assert not is_look(verb)
        assert verb not in FROM_NOTHING


def test_reasons_are_asked_for_verbs_that_it_has(model: type[Model]) -> None:
    lifecycle = lifecycle_of(model)
    assert lifecycle.reasons <= {verb for _, verb in lifecycle.steps}


def test_the_model_offers_its_states_and_begins_with_the_first(model: type[Model]) -> None:
    lifecycle = lifecycle_of(model)
    if "state" not in {field.name for field in model._meta.get_fields()}:
        # Its state is read from other facts; then it has one for whatever stands there.
        assert isinstance(model.state, property)  # type: ignore[attr-defined]
        return
    field = model._meta.get_field("state")
    assert list(field.choices) == lifecycle.choices  # type: ignore[union-attr]
    assert field.default == lifecycle.first  # type: ignore[union-attr]
    assert field.max_length >= max(map(len, lifecycle.states))  # type: ignore[union-attr]
