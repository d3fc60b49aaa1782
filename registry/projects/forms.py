"""The input of each deed on a study or a project, for its page and for the API."""

from typing import Any

from django import forms
from django.db.models import Case, QuerySet, When
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, Taxon
from registry.choices import RowField, RowsField
from registry.people.models import Person, Standing
from registry.permissions import Part, Role, Verb
from registry.projects import actions
from registry.projects.models import (
    Agreement,
    Arm,
    Plan,
    Procedure,
    Project,
    RecordingRule,
    SamplingRule,
    Severity,
    Study,
)
from registry.questions.models import Level, Question
from registry.saying import day_said
from registry.web import Deed, DeedForm, Words, day_field, deeds, number_of, reason_field

FOLLOWED = ("posted", "taken_on", "answered")


def text_field(
    label: Words, help_text: Words = "", rows: int = 4, *, required: bool = True
) -> forms.CharField:
    """Give a field for some paragraphs."""
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        required=required,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def several(queryset: QuerySet[Any], label: Words, help_text: Words = "") -> Any:
    """Give a field in which any number of rows may be ticked."""
    return RowsField(
        queryset,
        label=label,
        help_text=help_text,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )


def choose(form: DeedForm, name: str, queryset: QuerySet[Any]) -> None:
    """Offer these rows in a field."""
    field: Any = form.fields[name]
    field.queryset = queryset


# ------------------------------------------------------------------------------------------ studies


class OpenStudy(DeedForm):
    """What a study is for, and the questions that it takes on."""

    title = forms.CharField(label=_("Title"), max_length=200)
    aim = text_field(_("Aim"), _("What will be known when it is done."))
    taxon = RowField(
        Taxon.objects.all(), label=_("Taxon"), required=False, empty_label=_("several, or none")
    )
    questions = several(Question.objects.none(), _("Questions that it takes on"))

    def fit(self) -> None:
        """Offer the questions that are followed."""
        followed = Question.objects.filter(state__in=FOLLOWED)
        asked = self.initial.get("questions")
        number = number_of(asked) if isinstance(asked, str) else None
        question = followed.filter(pk=number).first() if number else None
        if question is not None:
            self.initial["questions"] = [question.pk]
            self.initial.setdefault("taxon", question.taxon_id)
            is_asked = Case(When(pk=question.pk, then=0), default=1)
            followed = followed.order_by(is_asked, "-posted_at")
        choose(self, "questions", followed)

    def act(self) -> Study:
        """Open it."""
        return actions.open_study(**self.cleaned_data, by=self.by)


class TakeQuestion(DeedForm):
    """Which question the study takes on."""

    question = RowField(Question.objects.none(), label=_("Question"))

    def fit(self) -> None:
        """Offer the questions that are followed and not in the study."""
        left = Question.objects.filter(state__in=FOLLOWED).exclude(studies=self.subject)
        choose(self, "question", left)

    def act(self) -> Study:
        """Take it."""
        return actions.take_question(self.subject, **self.cleaned_data, by=self.by)


def _supervisors() -> QuerySet[Person]:
    found: QuerySet[Person] = Person.objects.real().with_standing(Role.SUPERVISOR)
    return found.filter(is_active=True)


class _Cohort(DeedForm):
    """A cohort's label, its time and its lead supervisor."""

    cohort = forms.CharField(
        label=_("Cohort"), max_length=40, help_text=_("Its label, such as an academic year.")
    )
    starts_on = day_field(_("First day"))
    ends_on = day_field(_("Last day"))
    lead = RowField(Person.objects.none(), label=_("Lead supervisor"))

    def fit(self) -> None:
        """Offer the supervisors; oneself first where one is one."""
        choose(self, "lead", _supervisors())
        self.initial.setdefault("lead", self.by.pk)


class OpenProject(_Cohort):
    """A cohort's piece of work: its label, level, time, lead and cost in keeper time."""

    level = forms.ChoiceField(choices=Level.choices, label=_("Level of the student"))
    keeper_hours_week = forms.FloatField(
        label=_("Keeper time, hours a week"),
        min_value=0,
        max_value=168,
        initial=0,
        required=False,
        help_text=_("What it costs the keepers; 0 where it costs none."),
    )

    def act(self) -> Project:
        """Open it."""
        hours = self.cleaned_data.pop("keeper_hours_week") or 0
        return actions.open_project(
            self.subject, **self.cleaned_data, keeper_hours_week=hours, by=self.by
        )


class Extend(_Cohort):
    """The next cohort's label, time and lead."""

    intro = _(
        "The plan, its treatments, procedures and places are copied into a new draft. Permissions "
        "and people are asked for anew. The study's dictionary goes on."
    )

    def act(self) -> Project:
        """Open the next cohort."""
        return actions.extend_project(self.subject, **self.cleaned_data, by=self.by)


# ----------------------------------------------------------------------------------------- people


_ASSIGNED_FIRST = (Role.STUDENT, Role.SUPERVISOR)


def _place(role: str) -> tuple[int, str]:
    """Give where a role stands in a list of those who may be assigned."""
    known = [one.value for one in _ASSIGNED_FIRST]
    return (known.index(role) if role in known else len(known), role)


class Assign(DeedForm):
    """Who, and in which part."""

    person = RowField(Person.objects.none(), label=_("Person"))
    part = forms.ChoiceField(
        choices=Part.choices,
        label=_("Part"),
        initial=Part.STUDENT,
        help_text=_("A new lead supervisor takes over from the last one."),
    )
    course_ends_on = day_field(
        _("Their course ends on"),
        _("Of a student, where known: it is said when a body meets too late."),
        required=False,
    )

    def fit(self) -> None:
        """Offer everyone with a standing who can sign in, students first."""
        standings = Standing.objects.filter(ended_on=None).select_related("person")
        listed: dict[str, list[Person]] = {role: [] for role in _ASSIGNED_FIRST}
        known: set[int] = set()
        for one in sorted(standings, key=lambda one: (_place(one.role), one.person.name)):
            person = one.person
            if person.is_active and not person.is_system and person.pk not in known:
                known.add(person.pk)
                listed.setdefault(one.role, []).append(person)
        choose(self, "person", Person.objects.filter(pk__in=known))
        field: Any = self.fields["person"]
        groups = [
            (str(Role(role).label).capitalize(), [(one.pk, str(one)) for one in people])
            for role, people in listed.items()
            if people
        ]
        field.widget.choices = [("", field.empty_label), *groups]

    def act(self) -> Project:
        """Assign them."""
        actions.assign_member(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project


class Unassign(DeedForm):
    """Whose part ends, and why."""

    person = RowField(Person.objects.none(), label=_("Person"))
    reason = reason_field(_("Why their part ends"))

    def fit(self) -> None:
        """Offer the members, the lead left out."""
        live = self.subject.members.live().exclude(part=Part.LEAD)
        choose(self, "person", Person.objects.filter(pk__in=live.values("person")))

    def act(self) -> Project:
        """End it."""
        actions.end_membership(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project


class SignAgreement(DeedForm):
    """Who may use the data again, and when; signed with one's name."""

    intro = _(
        "What you collect stays in the archive, so that later cohorts can build on it. You are "
        "named as its author. Say from when others may use it."
    )
    terms = forms.ChoiceField(
        choices=Agreement.Terms.choices, label=_("The data are"), widget=forms.RadioSelect
    )
    embargo_months = forms.IntegerField(
        label=_("Months of embargo"),
        min_value=0,
        initial=0,
        required=False,
        help_text=_("0 where there is none."),
    )
    signed_name = forms.CharField(
        label=_("Sign with your name"),
        max_length=150,
        help_text=_("As it stands at the top right."),
    )

    def act(self) -> Project:
        """Sign it."""
        months = self.cleaned_data.pop("embargo_months") or 0
        actions.sign_agreement(self.subject, **self.cleaned_data, embargo_months=months, by=self.by)
        project: Project = self.subject
        return project


# ------------------------------------------------------------------------------------------- plan


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


class WritePlan(DeedForm):
    """The plan; all of it may wait but for its submission. What is left out stays as it was."""

    hypothesis = _optional_text("hypothesis", 2)
    experimental_unit = _optional_line("experimental_unit", 120)
    unit_reason = _optional_text("unit_reason")
    number_reason = _optional_text("number_reason")
    allocation = _optional_text("allocation")
    blinding = _optional_text("blinding", 2)
    outcome = _optional_line("outcome", 200)
    outcome_unit = _optional_line("outcome_unit", 40)
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
            ("experimental_unit", "unit_reason", "number_reason", "allocation", "blinding"),
        ),
        (
            _("What is measured"),
            ("outcome", "outcome_unit", "sampling_rule", "recording_rule", "analysis"),
        ),
        (_("When and where"), ("schedule", "places")),
        (
            _("The animals"),
            (
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
        held = {name: getattr(plan, name) for name in actions.PLAN_TEXTS}
        held["procedures"] = [one.pk for one in plan.procedures.all()]
        held["places"] = [one.pk for one in plan.places.all()]
        self.initial = {**held, **self.initial}

    def act(self) -> Project:
        """Write what was sent; a page sends all of it, an untouched tick box nothing."""
        is_whole = all(name in self.data for name in actions.PLAN_TEXTS)
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


class Submit(DeedForm):
    """Nothing to fill in."""

    intro = _(
        "A supervisor who is no member reviews the design. Until the review you cannot change it."
    )

    def act(self) -> Project:
        """Submit it."""
        return actions.submit_plan(self.subject, by=self.by)


class Return(DeedForm):
    """What must change."""

    reason = reason_field(_("What must change"), _("The members read this."))

    def act(self) -> Project:
        """Return it."""
        return actions.return_plan(self.subject, **self.cleaned_data, by=self.by)


class Accept(DeedForm):
    """Remarks, if there are any."""

    intro = _(
        "You look at the design: the unit, the replication, the allocation, the blinding, the "
        "reason for the numbers. Whether the work may be done is for the bodies to decide."
    )
    remarks = text_field(
        _("Remarks"), _("The members and the deciders read these."), required=False
    )

    def act(self) -> Project:
        """Accept it."""
        return actions.accept_plan(self.subject, **self.cleaned_data, by=self.by)


# ------------------------------------------------------------------------------- halts and the end


class HaltForm(DeedForm):
    """Why it must stop."""

    caution = _(
        "Anyone may stop data collection when an animal or a person may come to harm. Tell the "
        "keeper and the veterinary surgeon at once; care of the animals goes on."
    )
    reason = reason_field(_("What is wrong"), _("Only a vet and a chair together lift a halt."))

    def act(self) -> Project:
        """Halt it."""
        return actions.halt_project(self.subject, **self.cleaned_data, by=self.by)


class Resume(DeedForm):
    """Why it may go on."""

    intro = _(
        "Two people must assent: a veterinary surgeon, and the chair of a body that approved the "
        "project. Collecting goes on when both have."
    )
    reason = reason_field(_("Why it may go on"))

    @property
    def matter(self) -> str:
        """Why it was halted, by whom, and who has assented so far."""
        halt = self.subject.halts.filter(ended_on=None).first()
        if halt is None:
            return ""
        begun = gettext("Halted by {person} on {day}.").format(
            person=halt.halted_by.name, day=day_said(halt.began_on)
        )
        assent = halt.vet_assent or halt.body_assent
        so_far = (
            gettext("{person} has assented.").format(person=assent.name)
            if assent
            else gettext("Nobody has assented yet.")
        )
        return f"{halt.why} {begun} {so_far}"

    def act(self) -> Project:
        """Assent."""
        return actions.lift_halt(self.subject, **self.cleaned_data, by=self.by)


class Finish(DeedForm):
    """Nothing to fill in."""

    intro = _("After this no session can be planned. Data can still be deposited.")

    def act(self) -> Project:
        """Finish it."""
        return actions.finish_project(self.subject, by=self.by)


class Abandon(DeedForm):
    """Why it is given up."""

    intro = _("The record stays. The animals must be discharged and the booking released as well.")
    reason = reason_field(_("Why it is given up"))

    def act(self) -> Project:
        """Abandon it."""
        return actions.abandon_project(self.subject, **self.cleaned_data, by=self.by)


OPEN = Deed(
    Verb.STUDY_OPEN,
    OpenStudy,
    _("Open the study"),
    _("What is to be found out?"),
    _(
        "A study is long-lived: it takes on questions, owns the dictionary, and has one cohort "
        "after another."
    ),
)

STUDY_DEEDS = deeds(
    Deed(Verb.STUDY_OPEN_PROJECT, OpenProject, _("Open a cohort"), _("Which cohort, and when?")),
    Deed(
        Verb.STUDY_TAKE_QUESTION,
        TakeQuestion,
        _("Take a question on"),
        _("Take another question on"),
    ),
)

DEEDS = deeds(
    Deed(
        Verb.PROJECT_WRITE_PLAN,
        WritePlan,
        _("Write the plan"),
        _("How is it to be done?"),
        _(
            "Keep it as often as you like, with gaps; what is still missing must be there "
            "before it is submitted."
        ),
    ),
    Deed(Verb.PROJECT_ADD_ARM, AddArm, _("Add a treatment"), _("Add a treatment or group")),
    Deed(Verb.PROJECT_DROP_ARM, DropArm, _("Drop a treatment"), _("Drop a treatment or group")),
    Deed(Verb.PROJECT_SUBMIT, Submit, _("Submit the plan"), _("Submit the plan for review?")),
    Deed(Verb.PROJECT_ACCEPT, Accept, _("Accept the plan"), _("Is the design sound?")),
    Deed(Verb.PROJECT_RETURN, Return, _("Return the plan"), _("What must change in the plan?")),
    Deed(
        Verb.PROJECT_SIGN_AGREEMENT,
        SignAgreement,
        _("Sign the data agreement"),
        _("Who may use the data again?"),
    ),
    Deed(Verb.PROJECT_RESUME, Resume, _("Assent to lifting the halt"), _("May collecting go on?")),
    Deed(Verb.PROJECT_FINISH, Finish, _("Finish collecting"), _("Is everything collected?")),
    Deed(Verb.PROJECT_ASSIGN, Assign, _("Assign someone"), _("Who takes part?")),
    Deed(Verb.PROJECT_UNASSIGN, Unassign, _("End a part"), _("Whose part ends?")),
    Deed(Verb.PROJECT_EXTEND, Extend, _("Open the next cohort"), _("Who goes on with it?")),
    Deed(Verb.PROJECT_HALT, HaltForm, _("Halt for welfare"), _("Stop data collection now?")),
    Deed(Verb.PROJECT_ABANDON, Abandon, _("Abandon"), _("Give this project up?")),
)
