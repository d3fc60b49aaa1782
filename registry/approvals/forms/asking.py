"""The input of deeds on a request before it is decided: its projects, its limits, sending it."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.animals.models import LifeStage, Taxon
from registry.approvals import actions
from registry.approvals.models import Approval, Limit
from registry.choices import RowField
from registry.permissions import Part
from registry.projects.forms import choose
from registry.projects.models import Procedure, Project, Severity
from registry.web import DeedForm


class Cover(DeedForm):
    """Which other project of one's own."""

    project = RowField(Project.objects.none(), label=_("Project"))

    def fit(self) -> None:
        """Offer the projects that one leads."""
        mine = self.by.memberships.filter(ended_on=None, part=Part.LEAD).values("project")
        covered = self.subject.projects.values("pk")
        led = Project.objects.running().filter(pk__in=mine).exclude(pk__in=covered)
        choose(self, "project", led.select_related("study"))

    def act(self) -> Approval:
        """Cover it."""
        return actions.cover_project(self.subject, **self.cleaned_data, by=self.by)


class AddLimit(DeedForm):
    """Of which taxon and stage, by which procedure, how many and how often."""

    taxon = forms.ModelChoiceField(Taxon.objects.all(), label=_("Taxon"))
    life_stage = forms.ChoiceField(
        choices=[("", _("any stage")), *LifeStage.choices], label=_("Stage of life"), required=False
    )
    procedure = forms.ModelChoiceField(Procedure.objects.all(), label=_("Procedure"))
    max_animals = forms.IntegerField(label=_("Animals at most"), min_value=1)
    max_contacts_each = forms.IntegerField(
        label=_("Times each at most"),
        min_value=1,
        required=False,
        help_text=_("Leave empty for no limit."),
    )
    max_severity = forms.TypedChoiceField(
        choices=[("", _("as the request has it")), *Severity.choices],
        coerce=int,
        empty_value=None,
        required=False,
        label=_("Severity at most"),
        help_text=_("The most severe effect of this procedure that one animal is likely to feel."),
    )

    def act(self) -> Approval:
        """Add it."""
        actions.add_limit(self.subject, **self.cleaned_data, by=self.by)
        approval: Approval = self.subject
        return approval


class DropLimit(DeedForm):
    """Which line."""

    limit = forms.ModelChoiceField(Limit.objects.none(), label=_("Limit"))

    def fit(self) -> None:
        """Offer the lines of the request."""
        live = self.subject.limits.filter(is_dropped=False).select_related("taxon", "procedure")
        choose(self, "limit", live)

    def act(self) -> Approval:
        """Drop it."""
        return actions.drop_limit(self.subject, **self.cleaned_data, by=self.by)


class Submit(DeedForm):
    """Nothing to fill in."""

    intro = _("The body decides on the limits as they stand. You cannot change them until then.")

    def act(self) -> Approval:
        """Submit it."""
        return actions.submit_approval(self.subject, by=self.by)
