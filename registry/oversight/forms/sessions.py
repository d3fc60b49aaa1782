"""The input of each deed on a session."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure
from registry.choices import RowField
from registry.oversight import actions
from registry.oversight.forms.words import (
    LOCAL_CODES,
    described,
    moment_field,
    procedures_for,
    text_field,
    ticks,
)
from registry.oversight.models import Booking, Enrolment, Session
from registry.people.models import Person
from registry.permissions import Part, Verb
from registry.projects.models import Procedure, Project
from registry.web import Deed, DeedForm, day_field, deeds, reason_field


def _of(project: Project) -> Any:
    rows = Enrolment.objects.filter(project=project)
    return rows.select_related("animal__taxon", "group__taxon").order_by("code")


class PlanSession(DeedForm):
    """When, where, who observes, and which animals."""

    code = forms.CharField(label=_("Code"), max_length=40, help_text=_("The data name it by this."))
    place = RowField(Enclosure.objects.none(), label=_("Where"))
    planned_start = moment_field(_("From"))
    planned_end = moment_field(_("To"))
    observers = ticks(Person.objects.none(), _("Who observes"))
    enrolments = ticks(Enrolment.objects.none(), _("Animals in view"), required=False)

    def fit(self) -> None:
        """Offer booked places, members and enrolled animals."""
        project: Project = self.subject
        fields: dict[str, Any] = self.fields
        _offer_work(self)
        live = _of(project).filter(state="enrolled")
        fields["enrolments"].queryset = live
        fields["enrolments"].initial = [one.pk for one in live]
        fields["enrolments"].label_from_instance = described
        fields["code"].initial = f"S{project.sessions.count() + 1:03}"
        start = timezone.localtime().replace(minute=0, second=0, microsecond=0)
        fields["planned_start"].initial = start + timedelta(hours=1)
        fields["planned_end"].initial = start + timedelta(hours=2)

    def act(self) -> Session:
        """Plan it."""
        return actions.plan_session(self.subject, **self.cleaned_data, by=self.by)


class PlanSchedule(DeedForm):
    """Where, who observes, and which days of the schedule."""

    intro = _(
        "Every session of the plan’s schedule that is to come and is not planned yet is planned, "
        "with its time and its animals; where one cannot be, none is, and you are told why."
    )

    place = RowField(Enclosure.objects.none(), label=_("Where"))
    observers = ticks(Person.objects.none(), _("Who observes"))
    first = day_field(_("From"), _("Left empty, from today on."), required=False)
    last = day_field(_("Until"), _("Left empty, to the end of the schedule."), required=False)
    codes_begin = forms.CharField(
        label=_("Codes begin with"), max_length=20, initial="S", required=False,
        help_text=_("The number in the schedule follows, such as S007."),
    )  # fmt: skip

    def fit(self) -> None:
        """Offer booked places and members."""
        _offer_work(self)

    def act(self) -> Project:
        """Plan them."""
        return actions.plan_schedule(self.subject, **self.cleaned_data, by=self.by)


def _offer_work(form: DeedForm) -> None:
    """Offer the booked places and the members of the project, its students chosen."""
    project, fields = form.subject, form.fields
    places: Any = fields["place"]
    observers: Any = fields["observers"]
    booked = Booking.objects.filter(project=project, state="confirmed")
    places.queryset = Enclosure.objects.filter(bookings__in=booked).distinct()
    members = project.members.live()
    observers.queryset = Person.objects.filter(pk__in=members.values("person"))
    students = members.filter(part=Part.STUDENT).values_list("person", flat=True)
    observers.initial = list(students)


_EARLY, _AFTER = timedelta(hours=1), timedelta(hours=2)


def beginning_of(session: Session) -> datetime | None:
    """Give when it began as planned, where it is held about now; a later memory is not guessed."""
    is_now = session.planned_start - _EARLY <= timezone.now() <= session.planned_end + _AFTER
    return session.planned_start if is_now else None


class HoldSession(DeedForm):
    """What happened."""

    caution = format_lazy(
        "{} {}",
        _(
            "If an animal or a person was hurt or distressed, tell the keeper and the veterinary "
            "surgeon first; then enter it here."
        ),
        LOCAL_CODES,
    )

    started_at = moment_field(_("Began"))
    ended_at = moment_field(_("Ended"))
    procedure = forms.ModelChoiceField(
        Procedure.objects.none(), label=_("What was done"), empty_label=None
    )
    enrolments = ticks(Enrolment.objects.none(), _("Animals in view"), required=False)
    visitors = forms.IntegerField(label=_("Visitors counted"), min_value=0, required=False)
    noise_db = forms.FloatField(label=_("Noise, dB"), required=False)
    noise_medium = forms.ChoiceField(
        choices=[("", _("not measured")), *Session.Medium.choices],
        label=_("Measured in"),
        required=False,
        help_text=_("Levels in air and in water are not comparable."),
    )
    notes = text_field(_("Notes"), _("What was out of the way."), required=False)

    def fit(self) -> None:
        """Start from what was planned."""
        session: Session = self.subject
        fields: dict[str, Any] = self.fields
        fields["started_at"].initial = beginning_of(session)
        fields["procedure"].queryset = procedures_for(session.project)
        fields["procedure"].initial = procedures_for(session.project).first()
        chosen = session.enrolments.values("pk")
        fields["enrolments"].queryset = _of(session.project).filter(
            Q(state="enrolled") | Q(pk__in=chosen)
        )
        fields["enrolments"].initial = [row["pk"] for row in chosen]
        fields["enrolments"].label_from_instance = described

    def act(self) -> Session:
        """Enter it."""
        return actions.hold_session(self.subject, **self.cleaned_data, by=self.by)


class MissSession(DeedForm):
    """Why it was not held."""

    reason = reason_field(_("Why it was not held"))

    def act(self) -> Session:
        """Mark it as missed."""
        return actions.miss_session(self.subject, **self.cleaned_data, by=self.by)


class AbandonSession(DeedForm):
    """Why its data are given up."""

    intro = _("The uses of its animals stay on record: they happened.")

    reason = reason_field(_("Why its data are given up"))

    def act(self) -> Session:
        """Abandon it."""
        return actions.abandon_session(self.subject, **self.cleaned_data, by=self.by)


PLAN = Deed(
    Verb.PROJECT_PLAN_SESSION,
    PlanSession,
    _("Plan the session"),
    _("When will you work, and where?"),
)

PLAN_ALL = Deed(
    Verb.PROJECT_PLAN_SCHEDULE,
    PlanSchedule,
    _("Plan all sessions of the schedule"),
    _("Where is the schedule kept, and by whom?"),
)

SESSION_DEEDS = deeds(
    Deed(Verb.SESSION_HOLD, HoldSession, _("Enter it as held"), _("What happened?")),
    Deed(Verb.SESSION_MISS, MissSession, _("It was missed"), _("Why was it not held?")),
    Deed(Verb.SESSION_ABANDON, AbandonSession, _("Abandon"), _("Why are its data given up?")),
)
