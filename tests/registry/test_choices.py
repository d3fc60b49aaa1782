"""One row of many: a list while they are few, a name where they are many."""

from typing import Any

import pytest
from django import forms
from django.http import QueryDict
from django.test import Client

from registry import choices
from registry.animals.models import Animal
from registry.choices import RowField, RowsField
from registry.permissions import Role
from registry.projects.models import Project
from tests.worlds.animals import make_animal
from tests.worlds.people import make_person
from tests.worlds.projects import make_project

pytestmark = pytest.mark.django_db


class Picking(forms.Form):
    """One animal, and some."""

    one = RowField(Animal.objects.all(), required=False)
    some = RowsField(Animal.objects.all(), required=False, widget=forms.CheckboxSelectMultiple)


@pytest.fixture
def many(monkeypatch: pytest.MonkeyPatch) -> list[Animal]:
    """Give three animals where two are many; two of them share their name."""
    monkeypatch.setattr(choices, "MOST_LISTED", 2)
    monkeypatch.setattr(choices, "MOST_TICKED", 2)
    return [make_animal(name="Beck"), make_animal(name="Beck"), make_animal(name="Rill")]


def complaint(field: str, said: str) -> str:
    form = Picking(QueryDict(mutable=True) | {f"{field}_said": said})  # type: ignore[operator]
    return "" if form.is_valid() else form.errors[field][0]


def picked(**given: Any) -> Any:
    form = Picking(given)
    assert form.is_valid(), form.errors
    return form.cleaned_data


def test_few_rows_are_a_list_and_many_are_a_text() -> None:
    make_animal(name="Beck")
    assert "<option" in str(Picking()["one"])
    assert 'type="checkbox"' in str(Picking()["some"])


def test_many_rows_are_named_by_code_by_name_or_by_number(many: list[Animal]) -> None:
    first, _, rill = many
    form = Picking()
    assert 'type="text" name="one_said"' in str(form["one"])
    assert "<option" not in str(form["one"])
    assert picked(one_said="rill")["one"] == rill
    assert picked(one_said=first.code)["one"] == first
    assert picked(one_said=f"Beck, no. {first.pk}")["one"] == first
    assert picked(one_said=f"no. {rill.pk}")["one"] == rill
    assert picked(one_said="")["one"] is None


def test_a_name_that_several_have_is_refused_with_each_of_them(many: list[Animal]) -> None:
    first, second, _ = many
    said = complaint("one", "Beck")
    assert f"no. {first.pk}" in said
    assert f"no. {second.pk}" in said


def test_what_nothing_answers_to_is_refused_with_what_comes_near(many: list[Animal]) -> None:
    assert f"Did you mean Rill, no. {many[2].pk}?" in complaint("one", "Ril")
    assert "its number" in complaint("one", "Thing")
    assert "Did you mean Rill" in complaint("some", "Beck, no. 0\nRil") or "no. 0" in complaint(
        "some", "Beck, no. 0\nRil"
    )


def test_a_bare_number_that_was_typed_is_a_name_and_one_that_was_sent_is_a_row(
    many: list[Animal],
) -> None:
    rill = many[2]
    named = make_animal(name=str(rill.pk))
    assert picked(one_said=str(rill.pk))["one"] == named
    assert picked(one=str(rill.pk))["one"] == rill
    assert picked(one=rill.pk)["one"] == rill


def test_a_choice_that_was_made_already_is_written_so_that_it_can_be_sent_again(
    many: list[Animal],
) -> None:
    first, second, rill = many
    form = Picking(initial={"one": rill.pk, "some": [first.pk, second.pk]})
    assert f'value="Rill, no. {rill.pk}"' in str(form["one"])
    lines = f"Beck, no. {first.pk}\nBeck, no. {second.pk}"
    assert lines in str(form["some"])
    assert set(picked(some_said=lines)["some"]) == {first, second}


def test_a_project_is_named_by_its_title_and_its_cohort(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choices, "MOST_LISTED", 1)
    project, other = make_project(), make_project()

    class Pick(forms.Form):
        one = RowField(Project.objects.select_related("study"))

    form = Pick({"one_said": str(project)})
    assert str(project) != str(other)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["one"] == project


def test_a_list_is_narrowed_to_a_project_by_its_name(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choices, "MOST_LISTED", -1)
    client.force_login(make_person(Role.AUDITOR))
    page = client.get("/oversight/uses/?project_said=nothing+of+the+kind")
    assert page.status_code == 200
    assert "answers to “nothing of the kind”" in page.content.decode()
