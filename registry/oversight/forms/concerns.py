"""The input of each deed on a concern."""

from typing import Any

from django import forms
from django.db import models

from registry.animals.models import Animal
from registry.oversight.actions import concerns as actions
from registry.oversight.models import Concern
from registry.people.models import Person
from registry.permissions import Verb
from registry.projects.models import Project
from registry.web import Deed, DeedForm, deeds, reason_field


class RaiseConcern(DeedForm):
    """What worries you; by name or not."""

    caution = (
        "If an animal or a person is in danger now, tell a keeper or the veterinary surgeon at "
        "once; this page is read in working hours. You may also go to the regulator directly."
    )
    code = ""

    text = forms.CharField(
        label="What worries you", max_length=8000, widget=forms.Textarea(attrs={"rows": 6})
    )
    animal = forms.ModelChoiceField(
        Animal.objects.filter(left_on=None),
        label="About which animal",
        required=False,
        empty_label="none in particular",
    )
    project = forms.ModelChoiceField(
        Project.objects.select_related("study"),
        label="About which project",
        required=False,
        empty_label="none in particular",
    )
    named = forms.ModelChoiceField(
        Person.objects.real(),
        label="About a person",
        required=False,
        empty_label="nobody",
        help_text="That person will not see it, whatever office they hold.",
    )
    is_anonymous = forms.BooleanField(
        label="Do not record my name",
        required=False,
        help_text="You get a code with which you can follow what becomes of it.",
    )

    def fit(self) -> None:
        """Offer names of animals and people only to those who signed in."""
        if not self.by.is_authenticated:
            for name in ("animal", "project", "named", "is_anonymous"):
                del self.fields[name]

    def act(self) -> models.Model:
        """Raise it, and keep the code for the one page that shows it."""
        concern, self.code = actions.raise_concern(**self.cleaned_data, by=self.by)
        return concern


class TakeUp(DeedForm):
    """Nothing to fill in."""

    def act(self) -> Concern:
        """Take it up."""
        return actions.take_up_concern(self.subject, by=self.by)


class Resolve(DeedForm):
    """What was found and done."""

    reason = reason_field("What was found and done", "Whoever raised it can read this.")

    def act(self) -> Concern:
        """Resolve it."""
        return actions.resolve_concern(self.subject, **self.cleaned_data, by=self.by)


class Reopen(DeedForm):
    """Why it is taken up again."""

    reason = reason_field("Why it is taken up again")

    def act(self) -> Concern:
        """Reopen it."""
        return actions.reopen_concern(self.subject, **self.cleaned_data, by=self.by)


class Follow(forms.Form):
    """The code that was given when a concern was raised."""

    code = forms.CharField(label="Your code", max_length=40)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)


RAISE = Deed(
    Verb.CONCERN_RAISE,
    RaiseConcern,
    "Raise the concern",
    "What worries you?",
    "A veterinary surgeon and the chairs of the ethics bodies read it, and the auditor sees that "
    "it was raised; nobody whom it names does.",
)

DEEDS = deeds(
    Deed(Verb.CONCERN_TAKE_UP, TakeUp, "Take it up", "Take this concern up"),
    Deed(Verb.CONCERN_RESOLVE, Resolve, "Resolve", "Resolve this concern"),
    Deed(Verb.CONCERN_REOPEN, Reopen, "Reopen", "Take this concern up again"),
)
