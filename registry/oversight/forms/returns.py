"""The input of the deeds for the yearly return."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.oversight.actions import returns as actions
from registry.oversight.forms.words import text_field
from registry.oversight.models import Enrolment, ReturnCategory, YearReturn
from registry.permissions import Verb
from registry.projects.models import Project
from registry.web import Deed, DeedForm

_BIRTH = _("Where its animals were born")


def _category(sort: str, label: Any, help_text: Any = "", *, required: bool = True) -> Any:
    return forms.ModelChoiceField(
        ReturnCategory.objects.filter(sort=sort),
        label=label,
        help_text=help_text,
        required=required,
    )


class SayPurpose(DeedForm):
    """What the regulated work is for, and where the animals were born."""

    intro = _(
        "The yearly return asks it of work that was screened as regulated. The newest answer "
        "holds; earlier ones stay on record."
    )

    purpose = _category("purpose", _("What the work is for"))
    origin = _category(
        "origin",
        _BIRTH,
        _("All of them; one that differs is said at its enrolment."),
        required=False,
    )

    def act(self) -> Project:
        """Say it."""
        return actions.say_purpose(self.subject, **self.cleaned_data, by=self.by)


class SayOrigin(DeedForm):
    """Where this animal was born."""

    origin = _category("origin", _("Where it was born"))
    is_continued = forms.BooleanField(
        label=_("It continues its earlier use"),
        required=False,
        help_text=_(
            "Only where this very animal is needed because of what was done with it before; any "
            "other use is a re-use. Whether a re-use is allowed is for the authority and the "
            "veterinary surgeon."
        ),
    )

    def act(self) -> Enrolment:
        """Say it."""
        return actions.say_origin(self.subject, **self.cleaned_data, by=self.by)


class PublishReturn(DeedForm):
    """Which year, and what it revises."""

    caution = _(
        "The program counts; whoever publishes answers for it. Hold the figures and the lists of "
        "categories against what your regulator asks."
    )

    year = forms.IntegerField(label=_("Year"), min_value=2000, max_value=2200)
    note = text_field(
        _("What it revises, and why"), _("Leave it empty in a first edition."), required=False
    )

    def fit(self) -> None:
        """Start from the last year that is over."""
        self.fields["year"].initial = timezone.localdate().year - 1

    def act(self) -> YearReturn:
        """Publish it."""
        return actions.publish_return(**self.cleaned_data, by=self.by)


SAY_PURPOSE = Deed(
    Verb.PROJECT_SAY_PURPOSE,
    SayPurpose,
    _("Say it for the yearly return"),
    _("What is its regulated work for?"),
)
SAY_ORIGIN = Deed(
    Verb.ENROLMENT_SAY_ORIGIN,
    SayOrigin,
    _("Say where it was born"),
    _("Where was it born?"),
)
PUBLISH = Deed(
    Verb.YEAR_RETURN_PUBLISH,
    PublishReturn,
    _("Publish the return"),
    _("Publish the return of a year?"),
    _("It is kept as it stands now. What is found later makes another edition, and both are kept."),
)
