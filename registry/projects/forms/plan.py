"""The input of each deed on a plan, its treatments, its design and its review."""

from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, Taxon
from registry.choices import RowField
from registry.people.models import Person
from registry.permissions import Role
from registry.projects import actions
from registry.projects.forms.fields import choose, several, text_field
from registry.projects.models import (
    Allocation,
    Arm,
    DesignPart,
    Plan,
    Procedure,
    Project,
    RecordingRule,
    SamplingRule,
    Severity,
)
from registry.web import DeedForm, Words, reason_field


def _said(name: str) -> dict[str, str]:
    """Give a plan's field's own label and help."""
    field = Plan._meta.get_field(name)
    label = str(field.verbose_name)  # type: ignore[union-attr]  # why: no relation is asked for
    help_text = str(field.help_text)  # type: ignore[union-attr]  # why: as above
    return {"label": label[:1].upper() + label[1:], "help_text": help_text}


def _optional_text(name: str, rows: int = 3) -> forms.CharField:
    said = _said(name)
    return text_field(said["label"], said["help_text"], rows, required=False)


def _optional_line(name: str, longest: int) -> forms.CharField:
    said = _said(name)
    return forms.CharField(
        label=said["label"], help_text=said["help_text"], max_length=longest, required=False
    )


_UNIT = ("is_randomised_alone", "is_treated_alone", "is_uninfluenced")


def _may_hold_a_key(project: Project) -> Any:
    """Give the project's members, and the staff who give the treatments."""
    staff = Person.objects.real().with_standing(Role.KEEPER, Role.CURATOR, Role.VET)
    members = project.members.live().values("person")
    found = Person.objects.filter(Q(pk__in=members) | Q(pk__in=staff.values("pk")))
    return found.filter(is_active=True)


_ANSWERS = [("", _("not said yet")), ("yes", _("yes")), ("no", _("no"))]


def _asked(name: str) -> forms.TypedChoiceField:
    """Give one of the questions that name the unit: yes, no, or not said yet."""
    return forms.TypedChoiceField(
        label=_said(name)["label"],
        choices=_ANSWERS,
        coerce=lambda value: value == "yes",
        empty_value=None,
        required=False,
    )


class WritePlan(DeedForm):
    """The plan; all of it may wait but for its submission. What is left out stays as it was."""

    hypothesis = _optional_text("hypothesis", 2)
    experimental_unit = _optional_line("experimental_unit", 120)
    unit_reason = _optional_text("unit_reason")
    is_randomised_alone = _asked("is_randomised_alone")
    is_treated_alone = _asked("is_treated_alone")
    is_uninfluenced = _asked("is_uninfluenced")
    number_reason = _optional_text("number_reason")
    allocation = _optional_text("allocation")
    blinding = _optional_text("blinding", 2)
    keyholders = several(
        Person.objects.none(),
        _("Who may see the key"),
        _("They alone read which unit gets what, until it is revealed."),
    )
    exclusions = _optional_text("exclusions")
    outcome = _optional_line("outcome", 200)
    outcome_unit = _optional_line("outcome_unit", 40)
    ethogram = _optional_line("ethogram", 200)
    sampling_rule = forms.ChoiceField(
        choices=[("", _("not said yet")), *SamplingRule.choices],
        required=False,
        label=_("Sampling rule"),
        help_text=_("Which subjects are watched, and when."),
    )
    recording_rule = forms.ChoiceField(
        choices=[("", _("not said yet")), *RecordingRule.choices],
        required=False,
        label=_("Recording rule"),
        help_text=_("How what is seen is written down."),
    )
    analysis = _optional_text("analysis")
    schedule = _optional_text("schedule")
    data_plan = _optional_text("data_plan")
    subjects = _optional_text("subjects", 2)
    procedures = several(
        Procedure.objects.all(),
        _("What is done with the animals"),
        _("Watching is a procedure too."),
    )
    places = several(Enclosure.objects.all(), _("Where"))
    max_severity = forms.TypedChoiceField(
        choices=Severity.choices,
        coerce=int,
        empty_value=0,  # type: ignore[arg-type]  # why: coerced values are whole numbers here
        required=False,
        label=_("Highest severity expected"),
        help_text=_("The most severe effect that one animal is likely to go through."),
    )
    humane_end_points = _optional_text("humane_end_points")
    stopping_rule = _optional_text("stopping_rule", 2)
    three_rs = _optional_text("three_rs")
    is_quarantine_study = forms.BooleanField(
        label=_("A study of quarantine itself"),
        required=False,
        help_text=_("Only such a study may work with animals in quarantine."),
    )

    SECTIONS = (
        (_("The question"), ("hypothesis",)),
        (
            _("Unit and numbers"),
            (
                "experimental_unit",
                "is_randomised_alone",
                "is_treated_alone",
                "is_uninfluenced",
                "unit_reason",
                "number_reason",
                "exclusions",
                "allocation",
                "blinding",
                "keyholders",
            ),
        ),
        (
            _("What is measured"),
            (
                "outcome",
                "outcome_unit",
                "ethogram",
                "sampling_rule",
                "recording_rule",
                "analysis",
            ),
        ),
        (_("When and where"), ("schedule", "places")),
        (
            _("The animals"),
            (
                "subjects",
                "procedures",
                "max_severity",
                "humane_end_points",
                "stopping_rule",
                "three_rs",
                "is_quarantine_study",
            ),
        ),
        (_("The data"), ("data_plan",)),
    )

    def fit(self) -> None:
        """Begin with the plan as it stands."""
        plan = self.subject.plan
        choose(self, "keyholders", _may_hold_a_key(self.subject))
        held = {name: getattr(plan, name) for name in actions.PLAN_TEXTS}
        said = {True: "yes", False: "no", None: ""}
        held |= {name: said[held[name]] for name in _UNIT}
        held["keyholders"] = [one.pk for one in plan.keyholders.all()]
        held["procedures"] = [one.pk for one in plan.procedures.all()]
        held["places"] = [one.pk for one in plan.places.all()]
        self.initial = {**held, **self.initial}

    def act(self) -> Project:
        """Write what was sent; a page sends all of it, an untouched tick box nothing."""
        is_whole = all(
            name in self.data
            for name in actions.PLAN_TEXTS
            if not isinstance(self.fields[name], forms.BooleanField)
        )
        sent = {
            name: value
            for name, value in self.cleaned_data.items()
            if is_whole or name in self.data
        }
        return actions.write_plan(self.subject, **sent, by=self.by)

    def sections(self) -> list[tuple[Words, list[forms.BoundField]]]:
        """Give the fields in their sections, for the page."""
        return [(heading, [self[name] for name in names]) for heading, names in self.SECTIONS]


class AddArm(DeedForm):
    """A treatment or group, with its numbers."""

    name = forms.CharField(label=_("Treatment or group"), max_length=80)
    taxon = RowField(Taxon.objects.all(), label=_("Taxon"))
    units = forms.IntegerField(
        label=_("Experimental units"),
        min_value=0,
        help_text=_("Tanks, pairs, strings: what the treatment is given to, by itself."),
    )
    animals = forms.IntegerField(
        label=_("Animals or eggs"), min_value=0, help_text=_("In those units together.")
    )

    def fit(self) -> None:
        """Begin with the study's taxon."""
        self.initial.setdefault("taxon", self.subject.study.taxon_id)

    def act(self) -> Project:
        """Add it."""
        actions.add_arm(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project


class DropArm(DeedForm):
    """Which one."""

    arm = forms.ModelChoiceField(Arm.objects.none(), label=_("Treatment or group"))

    def fit(self) -> None:
        """Offer those in the plan."""
        choose(self, "arm", self.subject.plan.arms.filter(is_dropped=False))

    def act(self) -> Project:
        """Drop it."""
        return actions.drop_arm(self.subject, **self.cleaned_data, by=self.by)


class DropDesign(DeedForm):
    """Which sum."""

    part = forms.ChoiceField(label=_("What was reckoned"))

    def fit(self) -> None:
        """Offer those that stand in the plan."""
        labels = dict(DesignPart.Part.choices)
        standing = self.subject.plan.design_parts.filter(is_dropped=False)
        field: Any = self.fields["part"]
        field.choices = [(one, labels[one]) for one in standing.values_list("part", flat=True)]

    def act(self) -> Project:
        """Drop it."""
        return actions.drop_design(self.subject, **self.cleaned_data, by=self.by)


class Reveal(DeedForm):
    """Why the key is opened."""

    caution = _(
        "Whoever has seen the key is blind no more, and it cannot be closed again. Reveal it when "
        "the data are in and the analysis is fixed, or at once where an animal may come to harm."
    )
    reason = reason_field(_("Why now"), _("It stands in the ledger, and in the report."))

    def act(self) -> Allocation:
        """Reveal it."""
        return actions.reveal_allocation(self.subject, **self.cleaned_data, by=self.by)
