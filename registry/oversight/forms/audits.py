"""The input of an auditor's deeds, and of the answers to them."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.oversight.actions import audits as actions
from registry.oversight.auditing import CHANCE, MOST_DRAWN, RISKS
from registry.oversight.models import Audit, Breach, Point, SampledUse, Use
from registry.people.models import Person
from registry.permissions import Verb
from registry.web import Deed, DeedForm, Words, day_field, deeds, reason_field


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
    scope = _long(_("What it looks at"), _("Which animals, projects and approvals."))
    from_on = day_field(_("From"), _("The first day that it looks at."), required=False)
    to_on = day_field(_("To"), required=False)

    def act(self) -> Audit:
        """Open it."""
        return actions.open_audit(**self.cleaned_data, by=self.by)


class DrawUses(DeedForm):
    """How many uses to look at, and how they are drawn."""

    how = forms.ChoiceField(
        label=_("Draw"),
        choices=[(CHANCE, _("by chance")), *((key, one.said) for key, one in RISKS.items())],
    )
    size = forms.IntegerField(label=_("How many"), min_value=1, max_value=MOST_DRAWN, initial=20)
    seed = forms.RegexField(
        r"^[0-9a-fA-F]{64}$",
        label=_("Seed"),
        required=False,
        help_text=_("64 hexadecimal digits, by chance only; leave it empty and one is made."),
    )

    def act(self) -> Audit:
        """Draw them."""
        return actions.draw_uses(self.subject, **self.cleaned_data, by=self.by)


class ConfirmUse(DeedForm):
    """By what it is confirmed."""

    evidence = _long(_("By what"), _("The diary, the data, the film, whom you asked."))

    def act(self) -> SampledUse:
        """Confirm it."""
        return actions.confirm_use(self.subject, **self.cleaned_data, by=self.by)


class DoubtUse(DeedForm):
    """What does not agree."""

    reason = reason_field(_("What does not agree"), _("And what you held beside the record."))

    def act(self) -> SampledUse:
        """Doubt it."""
        return actions.doubt_use(self.subject, **self.cleaned_data, by=self.by)


class WritePoint(DeedForm):
    """What must be answered, and by whom."""

    text = _long(_("What must be answered"))
    addressee = RowField(Person.objects.real(), label=_("By whom"))
    breach = RowField(
        Breach.objects.all(), label=_("About a breach"), required=False, empty_label=_("none")
    )
    use = forms.ModelChoiceField(
        Use.objects.none(), label=_("About a use"), required=False, empty_label=_("none")
    )
    due_on = day_field(_("Answer due on"), required=False)

    def fit(self) -> None:
        """Offer the uses that the audit looks at."""
        field: Any = self.fields["use"]
        rows = Use.objects.filter(sampled__audit=self.subject)
        field.queryset = rows.select_related("animal", "group", "procedure").order_by("pk")
        field.label_from_instance = lambda one: f"{one.pk}: {one}"

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
    Deed(Verb.AUDIT_DRAW, DrawUses, _("Draw uses"), _("Which uses will you look at?")),
    Deed(Verb.AUDIT_WRITE_POINT, WritePoint, _("Write a point"), _("What must be answered?")),
)
SAMPLED_DEEDS = deeds(
    Deed(Verb.SAMPLED_USE_CONFIRM, ConfirmUse, _("Confirm it"), _("By what is it confirmed?")),
    Deed(Verb.SAMPLED_USE_DOUBT, DoubtUse, _("Doubt it"), _("What does not agree?")),
)
POINT_DEEDS = deeds(
    Deed(Verb.POINT_ANSWER, AnswerPoint, _("Answer"), _("Answer this point")),
    Deed(Verb.POINT_SETTLE, SettlePoint, _("Settle"), _("Settle this point")),
    Deed(Verb.POINT_REOPEN, ReopenPoint, _("Put it again"), _("Put this point again")),
)
