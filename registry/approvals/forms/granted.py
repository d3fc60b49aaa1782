"""The input of deeds on an approval once it is granted: suspension, its end, evidence."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.approvals import actions
from registry.approvals.models import Approval, Condition
from registry.projects.forms import choose, text_field
from registry.web import DeedForm, reason_field


class Suspend(DeedForm):
    """Why it is suspended."""

    caution = _(
        "From today no contact is covered. Feeding, treatment and all other care of the animals go "
        "on, and an animal that is under way is brought to a safe end first."
    )
    reason = reason_field(_("Why it is suspended"), _("The members and the auditor read this."))

    def act(self) -> Approval:
        """Suspend it."""
        return actions.suspend_approval(self.subject, **self.cleaned_data, by=self.by)


class Reinstate(DeedForm):
    """Why it is in force again."""

    reason = reason_field(_("Why it is in force again"))

    def act(self) -> Approval:
        """Reinstate it."""
        return actions.reinstate_approval(self.subject, **self.cleaned_data, by=self.by)


class Withdraw(DeedForm):
    """Why it is withdrawn."""

    intro = _("From today nothing is covered by it, and it cannot be put in force again.")
    reason = reason_field(_("Why it is withdrawn"))

    def act(self) -> Approval:
        """Withdraw it."""
        return actions.withdraw_approval(self.subject, **self.cleaned_data, by=self.by)


class Close(DeedForm):
    """Nothing to fill in."""

    intro = _("The work under it is done. From today nothing is covered by it.")

    def act(self) -> Approval:
        """Close it."""
        return actions.close_approval(self.subject, by=self.by)


class GiveEvidence(DeedForm):
    """For which condition, and what shows that it is met."""

    condition = forms.ModelChoiceField(Condition.objects.none(), label=_("Condition"))
    evidence = text_field(_("Evidence"), _("What shows that it is met, and where that is kept."))

    def fit(self) -> None:
        """Offer the conditions that are not met."""
        choose(self, "condition", self.subject.conditions.filter(met_on=None))

    def act(self) -> Approval:
        """Give it."""
        return actions.give_evidence(self.subject, **self.cleaned_data, by=self.by)
