"""The input of each deed on an enrolment."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.oversight import actions
from registry.oversight.counting import least_severity
from registry.oversight.forms.returns import SAY_ORIGIN
from registry.oversight.forms.words import LOCAL_CODES
from registry.oversight.models import Enrolment
from registry.permissions import Verb
from registry.projects.models import Severity
from registry.web import Deed, DeedForm, day_field, deeds, reason_field

_SEVERITY_HELP = _(
    "The highest that it went through, with what lesser events added up to; not how it is now, and "
    "not the average."
)


class Discharge(DeedForm):
    """Its last day, and the highest severity that it went through."""

    caution = format_lazy(
        "{} {}",
        _(
            "Where the work was regulated, whether an animal may go back to its home is for the "
            "veterinary surgeon."
        ),
        LOCAL_CODES,
    )

    left_on = day_field(_("Last day in the project"), is_today=True)
    actual_severity = forms.TypedChoiceField(
        choices=Severity, coerce=int, label=_("Actual severity"), help_text=_SEVERITY_HELP
    )

    def fit(self) -> None:
        """Suggest the highest severity among its uses."""
        least = least_severity(actions.severities_of(self.subject))
        self.fields["actual_severity"].initial = least or 0

    def act(self) -> Enrolment:
        """Discharge it."""
        return actions.discharge_animal(self.subject, **self.cleaned_data, by=self.by)


class Withdraw(Discharge):
    """The same, and why it leaves before the end."""

    caution = format_lazy(
        "{} {}",
        _(
            "If it looks unwell, tell the keeper and the veterinary surgeon first; then enter it "
            "here."
        ),
        LOCAL_CODES,
    )

    reason = reason_field(_("Why it is taken out"))

    def act(self) -> Enrolment:
        """Withdraw it."""
        given: dict[str, Any] = self.cleaned_data
        return actions.withdraw_animal(self.subject, **given, by=self.by)


ENROLMENT_DEEDS = deeds(
    Deed(
        Verb.ENROLMENT_DISCHARGE, Discharge, _("Discharge"), _("Has its part in the project ended?")
    ),
    Deed(Verb.ENROLMENT_WITHDRAW, Withdraw, _("Withdraw"), _("Take it out of the project?")),
    SAY_ORIGIN,
)
