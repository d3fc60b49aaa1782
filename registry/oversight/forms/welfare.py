"""The input of deeds on adverse events, deviations and keeper time."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.oversight.actions import welfare as actions
from registry.oversight.forms.words import LOCAL_CODES, described, moment_field, text_field
from registry.oversight.models import AdverseEvent, Course, Enrolment
from registry.permissions import Verb
from registry.projects.models import Project, Severity
from registry.web import Deed, DeedForm, day_field, deeds


class ReportEvent(DeedForm):
    """What came about, with which animal."""

    caution = format_lazy(
        "{} {}",
        _(
            "Tell the keeper and the veterinary surgeon first, and help the animal; then enter it "
            "here. Where a humane end-point is reached, the animal is taken out at once."
        ),
        LOCAL_CODES,
    )

    enrolment = forms.ModelChoiceField(
        Enrolment.objects.none(), label=_("Animal"), required=False, empty_label=_("none by itself")
    )
    sort = forms.ChoiceField(choices=AdverseEvent.Sort.choices, label=_("What came about"))
    happened_at = moment_field(_("When"))
    text = text_field(_("What happened, and what was done"))
    is_expected = forms.BooleanField(label=_("The plan foresaw it"), required=False)
    end_point = forms.CharField(
        label=_("Humane end-point that was reached"),
        max_length=300,
        required=False,
        help_text=_("In the words of the plan; leave it empty for none."),
    )

    def fit(self) -> None:
        """Offer the project's animals, and show its end-points."""
        project: Project = self.subject
        fields: dict[str, Any] = self.fields
        rows = Enrolment.objects.filter(project=project).order_by("state", "code")
        fields["enrolment"].queryset = rows.select_related("animal__taxon", "group__taxon")
        fields["enrolment"].label_from_instance = described
        fields["happened_at"].initial = timezone.localtime().replace(second=0, microsecond=0)
        if said := project.plan.humane_end_points.strip():
            fields["end_point"].help_text = format_lazy(
                "{} {}", _("Leave it empty for none. The plan says:"), said
            )

    def act(self) -> AdverseEvent:
        """Report it."""
        return actions.report_event(self.subject, **self.cleaned_data, by=self.by)


class AssessEvent(DeedForm):
    """What the animal went through, and what is to follow."""

    caution = LOCAL_CODES
    intro = _(
        "To stop the project, halt its data collection too; to withdraw the animal, withdraw its "
        "enrolment. Only a veterinary surgeon and a body together restart what was stopped."
    )

    severity = forms.TypedChoiceField(
        choices=Severity,
        coerce=int,
        label=_("Actual severity, with this event"),
        # Common practice where animals are counted by severity; no source.
        help_text=_("Found dead counts as severe, unless you can judge that it went through less."),
    )
    course = forms.ChoiceField(choices=Course.choices, label=_("Decision"))
    assessment = text_field(_("What you found, and what is to be done"))

    def act(self) -> AdverseEvent:
        """Assess it."""
        return actions.assess_event(self.subject, **self.cleaned_data, by=self.by)


class RecordDeviation(DeedForm):
    """What was done otherwise than planned."""

    happened_on = day_field(_("When"), is_today=True)
    text = text_field(_("What was done otherwise"))
    why = text_field(_("Why"))
    effect = text_field(_("What it does to the animals and the data"), required=False)

    def act(self) -> Project:
        """Record it."""
        return actions.record_deviation(self.subject, **self.cleaned_data, by=self.by)


class LogTime(DeedForm):
    """Keeper time that the project took."""

    happened_on = day_field(_("Day"), is_today=True)
    minutes = forms.IntegerField(
        label=_("Minutes"),
        min_value=-actions.DAY_MIN,
        max_value=actions.DAY_MIN,
        help_text=_("Of all keepers together; below 0 to take a wrong entry back."),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def act(self) -> Project:
        """Log it."""
        return actions.log_time(self.subject, **self.cleaned_data, by=self.by)


REPORT_EVENT = Deed(
    Verb.PROJECT_REPORT_EVENT,
    ReportEvent,
    _("Report an adverse event"),
    _("What harm came to an animal?"),
)
DEVIATION = Deed(
    Verb.PROJECT_RECORD_DEVIATION,
    RecordDeviation,
    _("Record a deviation"),
    _("What was done otherwise than planned?"),
)
LOG_TIME = Deed(
    Verb.PROJECT_LOG_TIME,
    LogTime,
    _("Log keeper time"),
    _("How much keeper time did it take?"),
)
EVENT_DEEDS = deeds(
    Deed(
        Verb.ADVERSE_EVENT_ASSESS,
        AssessEvent,
        _("Assess it"),
        _("What did the animal go through, and what follows?"),
    )
)
