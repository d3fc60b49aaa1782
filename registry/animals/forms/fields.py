"""Fields that the forms of the collection share."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, Event, Sex
from registry.choices import RowField
from registry.people.models import Institution
from registry.web import DeedForm, Words, day_field

LOCAL_CODES = _(
    "Follow the rules of your collection and the law where you work; this program advises nobody."
)

SEX_HELP = _("Undetermined: looked and could not tell. Unknown: not looked.")


def today(label: Words) -> forms.DateField:
    """Give the field for a day, with today standing in it."""
    return day_field(label, is_today=True)


_NOTE = _("Note")


def note(label: Words = _NOTE, help_text: Words = "", *, required: bool = False) -> forms.CharField:
    """Give the field for a few lines."""
    return forms.CharField(
        label=label,
        required=required,
        help_text=help_text,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def enclosure_field(label: Words) -> RowField:
    """Give the field for an enclosure."""
    return RowField(Enclosure.objects.all(), label=label)


def code_field(help_text: Words) -> forms.CharField:
    """Give the field for the code of a record that comes of the deed."""
    return forms.CharField(label=_("Code"), max_length=40, help_text=help_text)


def sex_field(label: Words, help_text: Words = "") -> forms.ChoiceField:
    """Give the field for a sex."""
    return forms.ChoiceField(
        choices=Sex, label=label, initial=Sex.UNKNOWN, help_text=help_text or SEX_HELP
    )


def cause_field() -> forms.ChoiceField:
    """Give the field for the cause of a death."""
    return forms.ChoiceField(
        choices=[("", _("none: it did not die")), *Event.Cause.choices],
        label=_("Cause of death"),
        required=False,
        help_text=_("As far as it is known; the veterinary surgeon may find another."),
    )


def owner_field() -> forms.ModelChoiceField[Institution]:
    """Give the field for who owns an animal."""
    return forms.ModelChoiceField(
        Institution.objects.all(),
        label=_("Owner"),
        required=False,
        empty_label=_("this collection"),
        help_text=_("Only where another institution owns it."),
    )


def number_field(
    label: Words, help_text: Words = "", *, lowest: int | None = 0
) -> forms.IntegerField:
    """Give the field for a number of animals."""
    return forms.IntegerField(
        label=label,
        help_text=help_text,
        min_value=lowest,
        max_value=10_000_000,
        required=False,
        initial=0,
    )


class Counted(DeedForm):
    """Numbers of males, females and those of unknown sex; an empty one is 0."""

    def numbers(self) -> dict[str, Any]:
        """Give the cleaned data with 0 where no number was given."""
        names = ("males", "females", "unknown")
        return {**self.cleaned_data, **{name: self.cleaned_data[name] or 0 for name in names}}
