"""The input of the deeds on what goes on at an enclosure every week."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.models import Enclosure, Routine
from registry.web import DeedForm


def _time_field(label: Any) -> forms.TimeField:
    return forms.TimeField(
        label=label, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )


class AddRoutine(DeedForm):
    """What goes on, on which weekdays, from when to when."""

    intro = _("Schedules of sessions leave these times free.")

    sort = forms.ChoiceField(label=_("What goes on"), choices=Routine.Sort.choices)
    weekdays = forms.TypedMultipleChoiceField(
        label=_("On"),
        choices=Routine.Weekday.choices,
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
    )
    begins = _time_field(_("From"))
    ends = _time_field(_("Until"))
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def act(self) -> Enclosure:
        """Write it down."""
        return actions.add_routine(self.subject, **self.cleaned_data, by=self.by)


class EndRoutine(DeedForm):
    """Which one."""

    routine = forms.ModelChoiceField(Routine.objects.none(), label=_("What goes on no more"))

    def fit(self) -> None:
        """Offer those that go on."""
        field: Any = self.fields["routine"]
        field.queryset = self.subject.routines.filter(ended_on=None)

    def act(self) -> Enclosure:
        """End it."""
        return actions.end_routine(self.subject, **self.cleaned_data, by=self.by)
