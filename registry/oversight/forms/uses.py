"""The input of each deed on a use."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, Enclosure, Group
from registry.choices import RowField
from registry.oversight import actions
from registry.oversight.forms.words import (
    LOCAL_CODES,
    described,
    moment_field,
    procedures_for,
    text_field,
)
from registry.oversight.models import Enrolment, Session, Use
from registry.permissions import Verb
from registry.projects.models import Procedure, Project, Severity
from registry.web import Deed, DeedForm, deeds, reason_field


class RecordUse(DeedForm):
    """What was done with which animal, and when."""

    caution = format_lazy(
        "{} {}",
        _(
            "If an animal or a person was hurt or distressed, tell the keeper and the veterinary "
            "surgeon first; then enter it here. Enter everything that happened: what passed a "
            "limit is explained later, never refused."
        ),
        LOCAL_CODES,
    )

    enrolment = forms.ModelChoiceField(
        Enrolment.objects.none(), label=_("Animal"), required=False, empty_label=_("another animal")
    )
    other = forms.CharField(
        label=_("Another animal"),
        max_length=40,
        required=False,
        help_text=_("The code of an animal or group that is not enrolled."),
    )
    procedure = RowField(Procedure.objects.all(), label=_("What was done"))
    happened_at = moment_field(_("When"))
    number = forms.IntegerField(
        label=_("How many"),
        min_value=1,
        initial=1,
        help_text=_("More than 1 only of a counted group."),
    )
    severity = forms.TypedChoiceField(
        choices=[("", _("as the procedure usually is")), *Severity.choices],
        coerce=int,
        empty_value=None,
        required=False,
        label=_("Actual severity"),
        help_text=_("What this animal went through."),
    )
    place = RowField(
        Enclosure.objects.all(), label=_("Where"), required=False, empty_label=_("where it lives")
    )
    session = forms.ModelChoiceField(
        Session.objects.none(), label=_("In session"), required=False, empty_label=_("none")
    )
    note = text_field(_("Note"), required=False, rows=3)

    def fit(self) -> None:
        """Offer the project's animals and sessions, and its planned procedures first."""
        project: Project = self.subject
        fields: dict[str, Any] = self.fields
        fields["enrolment"].queryset = (
            Enrolment.objects.filter(project=project)
            .select_related("animal__taxon", "group__taxon")
            .order_by("state", "code")
        )
        fields["enrolment"].label_from_instance = described
        fields["procedure"].queryset = procedures_for(project)
        planned = list(Procedure.objects.filter(plans__project=project)[:2])
        fields["procedure"].initial = planned[0].pk if len(planned) == 1 else None
        fields["session"].queryset = Session.objects.filter(project=project).order_by(
            "-planned_start"
        )
        fields["happened_at"].initial = timezone.localtime().replace(second=0, microsecond=0)

    def clean(self) -> dict[str, Any]:
        """Read the other animal's code."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        code = given.pop("other", "").strip()
        given["animal"] = Animal.objects.filter(code=code).first() if code else None
        given["group"] = (
            Group.objects.filter(code=code).first() if code and not given["animal"] else None
        )
        if code and given["animal"] is None and given["group"] is None:
            self.add_error(
                "other", _("No animal and no group here has the code “%(code)s”.") % {"code": code}
            )
        return given

    def act(self) -> Use:
        """Record it."""
        return actions.record_use(self.subject, **self.cleaned_data, by=self.by)


class ReverseUse(DeedForm):
    """Why the entry was wrong."""

    intro = _(
        "Nothing is deleted: an entry that takes this one back is written beside it. Take back "
        "only what did not happen so."
    )

    reason = reason_field(_("Why the entry was wrong"))

    def act(self) -> Use:
        """Take it back, and look at the entry that was wrong."""
        actions.reverse_use(self.subject, **self.cleaned_data, by=self.by)
        use: Use = self.subject
        return use


RECORD = Deed(
    Verb.PROJECT_RECORD_USE,
    RecordUse,
    _("Record a use"),
    _("What was done with which animal?"),
)

USE_DEEDS = deeds(
    Deed(Verb.USE_REVERSE, ReverseUse, _("Take it back"), _("Was this entered wrongly?")),
)
