"""The input of deeds on what a project needs, and of its start."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.approvals import actions
from registry.approvals.models import PermissionKind
from registry.projects.forms import text_field
from registry.projects.models import Project
from registry.web import DeedForm


class StateNeed(DeedForm):
    """Which permission, whether it is needed, and why not where it is not."""

    permission = forms.ModelChoiceField(PermissionKind.objects.all(), label=_("Permission"))
    is_needed = forms.BooleanField(
        label=_("It is needed"),
        required=False,
        initial=True,
        help_text=_("Leave it unticked where it is not, and write why."),
    )
    reason = text_field(
        _("Reason"),
        _("Required where it is not needed; deciders and the auditor read it."),
        3,
        required=False,
    )

    def act(self) -> Project:
        """Say so."""
        return actions.state_need(self.subject, **self.cleaned_data, by=self.by)


class Start(DeedForm):
    """Nothing to fill in."""

    intro = _("Collecting can start once every permission that is needed is live today.")

    def act(self) -> Project:
        """Start it."""
        return actions.start_project(self.subject, by=self.by)
