"""What a form says of a fault, in the house's words."""

import re

import pytest
from django import forms
from django.core import validators

from registry import faults
from registry.questions.models import Question
from registry.web import NarrowForm, day_field
from tests.architecture.addresses import addresses

DJANGOS = re.compile(r"This field is|Select a valid|Enter a|Ensure this|- Select an option")


class Asked(NarrowForm):
    """One field of each kind."""

    name = forms.CharField(max_length=3)
    few = forms.IntegerField(min_value=1, max_value=9)
    share = forms.FloatField()
    on = day_field("On")
    at = forms.DateTimeField()
    kind = forms.ChoiceField(choices=[("a", "A")])
    kinds = forms.MultipleChoiceField(choices=[("a", "A")])
    email = forms.EmailField()
    file = forms.FileField()
    question = forms.ModelChoiceField(Question.objects.all())
    other = forms.ModelChoiceField(Question.objects.all(), required=False)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "typed",
    [
        {},
        dict.fromkeys(["name", "few", "share", "on", "at", "kind", "kinds", "email"], "zzzz"),
        {"few": "99", "question": "0", "kinds": "a", "email": "a@"},
        {"few": "-1", "name": "\x00"},
    ],
)
def test_every_fault_is_told_in_our_own_words(typed: dict[str, str]) -> None:
    told = Asked(typed).errors
    assert told
    for name, complaints in told.items():
        for complaint in complaints:
            assert not DJANGOS.search(str(complaint)), (name, complaint)


@pytest.mark.django_db
def test_a_fault_says_what_to_do() -> None:
    told = Asked({"name": "four", "few": "10"}).errors
    assert told["name"] == ["Too long: at most 3 letters, and it has 4."]
    assert told["few"] == ["Too much: at most 9."]
    assert told["share"] == ["Missing: fill this in."]


@pytest.mark.django_db
def test_a_list_with_nothing_chosen_says_so() -> None:
    form = Asked()
    assert '<option value="" selected>Choose one</option>' in str(form["question"])
    assert '<option value="" selected>none</option>' in str(form["other"])


@pytest.mark.parametrize("written", ["24/11/2026", "2026-11-24", "24 Nov 2026", "24 November 2026"])
def test_a_day_is_read_as_people_here_write_it(written: str) -> None:
    assert day_field("On").clean(written).isoformat() == "2026-11-24"


def test_the_words_are_set_once_for_every_kind() -> None:
    faults.speak()
    assert str(forms.DateField.default_error_messages["invalid"]).startswith("Not a day")
    assert str(forms.CharField().error_messages["required"]) == "Missing: fill this in."
    assert str(validators.validate_email.message).startswith("Not an e-mail")


def test_no_field_of_a_deed_keeps_djangos_own_words() -> None:
    seen = {deed.form for one in addresses() for deed in one.offered.values()}
    assert len(seen) > 40
    for form in seen:
        for name, field in form.base_fields.items():
            texts = [str(text) for key, text in field.error_messages.items() if key != "max_length"]
            assert not any(DJANGOS.search(text) for text in texts), (form, name, texts)
