"""The input of each deed on a concern."""

from typing import Any

from django import forms
from django.db import models
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal
from registry.choices import RowField
from registry.oversight.actions import concerns as actions
from registry.oversight.models import Concern
from registry.people.models import Person
from registry.permissions import Verb
from registry.projects.models import Project
from registry.web import Deed, DeedForm, deeds, reason_field


class RaiseConcern(DeedForm):
    """What worries you; by name or not."""

    keeps_no_draft = True  # a browser that others use should not tell them of it

    caution = _(
        "If an animal or a person is in danger now, tell a keeper or the veterinary surgeon at "
        "once; this page is read in working hours. You may also go to the regulator directly."
    )
    code = ""

    text = forms.CharField(
        label=_("What worries you"), max_length=8000, widget=forms.Textarea(attrs={"rows": 6})
    )
    animal = RowField(
        Animal.objects.filter(left_on=None),
        label=_("About which animal"),
        required=False,
        empty_label=_("none in particular"),
    )
    project = RowField(
        Project.objects.select_related("study"),
        label=_("About which project"),
        required=False,
        empty_label=_("none in particular"),
    )
    named = RowField(
        Person.objects.real(),
        label=_("About a person"),
        required=False,
        empty_label=_("nobody"),
        help_text=_("That person will not see it, whatever office they hold."),
    )
    is_anonymous = forms.BooleanField(
        label=_("Do not record my name"),
        required=False,
        help_text=_("You get a code with which you can follow what becomes of it."),
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

    reason = reason_field(_("What was found and done"), _("Whoever raised it can read this."))

    def act(self) -> Concern:
        """Resolve it."""
        return actions.resolve_concern(self.subject, **self.cleaned_data, by=self.by)


class Reopen(DeedForm):
    """Why it is taken up again."""

    reason = reason_field(_("Why it is taken up again"))

    def act(self) -> Concern:
        """Reopen it."""
        return actions.reopen_concern(self.subject, **self.cleaned_data, by=self.by)


class Follow(forms.Form):
    """The code that was given when a concern was raised."""

    code = forms.CharField(label=_("Your code"), max_length=40)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)


RAISE = Deed(
    Verb.CONCERN_RAISE,
    RaiseConcern,
    _("Raise the concern"),
    _("What worries you?"),
    _(
        "A veterinary surgeon and the chairs of the ethics bodies read it, and the auditor sees "
        "that it was raised; nobody whom it names does."
    ),
)

DEEDS = deeds(
    Deed(Verb.CONCERN_TAKE_UP, TakeUp, _("Take it up"), _("Take this concern up")),
    Deed(Verb.CONCERN_RESOLVE, Resolve, _("Resolve"), _("Resolve this concern")),
    Deed(Verb.CONCERN_REOPEN, Reopen, _("Reopen"), _("Take this concern up again")),
)
