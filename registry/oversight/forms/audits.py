"""The input of an auditor's deeds, and of the answers to them."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.oversight.actions import audits as actions
from registry.oversight.models import Audit, Breach, Point
from registry.people.models import Person
from registry.permissions import Verb
from registry.web import Deed, DeedForm, Words, deeds, reason_field


def _long(label: Words, help_text: Words = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": 5}),
    )


class OpenAudit(DeedForm):
    """What the audit is called, and what it looks at."""

    title = forms.CharField(label=_("Title"), max_length=200)
    scope = _long(_("What it looks at"), _("Which animals, projects, approvals and days."))

    def act(self) -> Audit:
        """Open it."""
        return actions.open_audit(**self.cleaned_data, by=self.by)


class WritePoint(DeedForm):
    """What must be answered, and by whom."""

    text = _long(_("What must be answered"))
    addressee = RowField(Person.objects.real(), label=_("By whom"))
    breach = RowField(
        Breach.objects.all(), label=_("About a breach"), required=False, empty_label=_("none")
    )

    def act(self) -> Audit:
        """Write it, and go back to the audit."""
        return actions.write_point(self.subject, **self.cleaned_data, by=self.by).audit


class AnswerPoint(DeedForm):
    """The answer."""

    answer = _long(_("Your answer"))

    def act(self) -> Point:
        """Answer it."""
        return actions.answer_point(self.subject, **self.cleaned_data, by=self.by)


class SettlePoint(DeedForm):
    """Nothing to fill in."""

    def act(self) -> Point:
        """Settle it."""
        return actions.settle_point(self.subject, by=self.by)


class ReopenPoint(DeedForm):
    """Why the answer does not hold."""

    reason = reason_field(_("Why the answer does not hold"))

    def act(self) -> Point:
        """Put it again."""
        return actions.reopen_point(self.subject, **self.cleaned_data, by=self.by)


OPEN = Deed(Verb.AUDIT_OPEN, OpenAudit, _("Open the audit"), _("What will you audit?"))
AUDIT_DEEDS = deeds(
    Deed(Verb.AUDIT_WRITE_POINT, WritePoint, _("Write a point"), _("What must be answered?"))
)
POINT_DEEDS = deeds(
    Deed(Verb.POINT_ANSWER, AnswerPoint, _("Answer"), _("Answer this point")),
    Deed(Verb.POINT_SETTLE, SettlePoint, _("Settle"), _("Settle this point")),
    Deed(Verb.POINT_REOPEN, ReopenPoint, _("Put it again"), _("Put this point again")),
)
