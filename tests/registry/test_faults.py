"""What a form says of a fault, in the house's words."""

import re
from typing import Any

import pytest
from django import forms
from django.core import validators
from rest_framework import serializers
from rest_framework.test import APIClient

from registry import faults
from registry.questions.models import Question
from registry.rest import in_line
from registry.web import NarrowForm, day_field
from tests.architecture.addresses import addresses
from tests.worlds.people import make_person

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


class Sent(serializers.Serializer[Any]):
    """One field of each kind, as the API asks them."""

    name = serializers.CharField(max_length=3)
    few = serializers.IntegerField(min_value=1, max_value=9)
    share = serializers.FloatField(max_value=1)
    on = serializers.DateField()
    at = serializers.DateTimeField()
    clock = serializers.TimeField()
    sort = serializers.ChoiceField(choices=["a"])
    names = serializers.ListField(child=serializers.CharField(), max_length=2)
    pairs = serializers.DictField()
    is_so = serializers.BooleanField()
    seed = serializers.RegexField("^[0-9]$")


OF_THE_FRAMEWORK = re.compile(r"[Tt]his field|valid|Ensure|[Ee]xpected|[Uu]nexpected|wrong format")


@pytest.mark.parametrize(
    "given",
    [
        {},
        dict.fromkeys(Sent().fields),
        {"name": "four", "few": 10, "share": 2, "on": "x", "at": "x", "clock": "x", "sort": "b"},
        {"few": 0, "names": ["a", "b", "c"], "pairs": [], "is_so": "perhaps", "seed": "xx"},
        {"names": "a", "few": "x", "share": "y", "name": {}},
    ],
)
def test_what_the_api_cannot_read_is_told_in_our_words_too(given: dict[str, object]) -> None:
    read = Sent(data=given)
    assert not read.is_valid()
    for name, complaints in read.errors.items():
        assert not OF_THE_FRAMEWORK.search(in_line(complaints)), (name, complaints)


@pytest.mark.django_db
def test_a_fault_deep_in_what_was_sent_is_told_in_a_line() -> None:
    api = APIClient()
    api.force_authenticate(make_person())
    sent = {"animals": ["a"], "days": ["never"], "slots": [{"start": "noon"}], "length_min": 0}
    answer = api.post("/api/v1/design/schedule/", sent, format="json")
    said = answer.json()
    assert (answer.status_code, said["fields"]["days"]) == (
        400,
        "Not a day: write it such as 2026-11-24.",
    )
    assert said["fields"]["slots"].startswith("Not a time of day")
    assert "{" not in said["why"]
    assert api.put("/api/v1/questions/").json()["why"] == "“PUT” is not open at this address."
    assert APIClient().get("/api/v1/questions/").json()["why"] == "Nobody is signed in."
