"""What projects and their plans need."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, Subquery
from django.urls import reverse
from django.utils.translation import gettext as _

from archive.models import Version
from registry.desk.needs.need import Need, on, step_url
from registry.oversight.models import Breach, Enrolment
from registry.permissions import Verb, allowed
from registry.projects.models import Halt, Project, Review
from registry.questions.models import Question
from registry.tags import day

_START_SOON_DAYS = 14
_LONGEST_REMARK = 200


def _projects(state: str, person: Any, verb: Verb) -> Any:
    return allowed(Project.objects.filter(state=state), person, verb).select_related("study")


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_REMARK else f"{text[:_LONGEST_REMARK].rstrip()} …"


def plans_to_write(person: Any, today: date) -> Iterator[Need]:
    """Plans of one's own that are drafted, or that were returned for changes."""
    newest = Review.objects.filter(project=OuterRef("pk")).order_by("-written_at", "-pk")
    drafted = _projects("drafted", person, Verb.PROJECT_WRITE_PLAN).annotate(
        remarks=Subquery(newest.values("remarks")[:1]),
        reviewed_at=Subquery(newest.values("written_at")[:1]),
    )
    for project in drafted:
        if project.reviewed_at is None:
            yield Need(
                what=_("Write the plan: %(project)s") % {"project": project},
                why=_(
                    "It is to start on %(day)s; a supervisor who is not a member reviews it first."
                )
                % {"day": day(project.starts_on)},
                step=_("Write the plan"),
                url=step_url(project, "write_plan"),
                due=project.starts_on,
            )
        else:
            yield Need(
                what=_("The plan came back for changes: %(project)s") % {"project": project},
                why=_cut(project.remarks),
                step=_("Change the plan"),
                url=step_url(project, "write_plan"),
                due=project.starts_on,
                since=on(project.reviewed_at),
            )


def plans_to_review(person: Any, today: date) -> Iterator[Need]:
    """Plans of others that wait for a supervisor's design review."""
    for project in _projects("submitted", person, Verb.PROJECT_ACCEPT):
        yield Need(
            what=_("A plan waits for a design review: %(project)s") % {"project": project},
            why=_("You are no member of it. It is to start on %(day)s.")
            % {"day": day(project.starts_on)},
            step=_("Review the plan"),
            url=reverse("projects:plan", args=[project.pk]),
            due=project.starts_on,
        )


def agreements_to_sign(person: Any, today: date) -> Iterator[Need]:
    """Data agreements that a student has not signed; collecting waits for them."""
    open_states = [state for state, verb in Project.lifecycle.steps if verb == "sign_agreement"]
    projects = allowed(
        Project.objects.filter(state__in=open_states), person, Verb.PROJECT_SIGN_AGREEMENT
    )
    for project in projects.exclude(agreements__person=person).select_related("study"):
        yield Need(
            what=_("Sign the data agreement: %(project)s") % {"project": project},
            why=_("It says who may use the data again, and when. Collecting starts after it."),
            step=_("Read and sign"),
            url=step_url(project, "sign_agreement"),
            due=project.starts_on,
        )


def to_start(person: Any, today: date) -> Iterator[Need]:
    """Projects of one's own whose plan was accepted and that are soon to start."""
    soon = today + timedelta(days=_START_SOON_DAYS)
    for project in _projects("accepted", person, Verb.PROJECT_START).filter(starts_on__lte=soon):
        yield Need(
            what=_("The plan is accepted, and nothing is collected yet: %(project)s")
            % {"project": project},
            why=_(
                "Every needed permission must be live before it starts; its page says what is not."
            ),
            step=_("See what it lacks"),
            url=project.get_absolute_url(),
            due=project.starts_on,
        )


def _halted(person: Any, verb: Verb) -> Any:
    halts = Halt.objects.filter(project=OuterRef("pk"), ended_on=None)
    return _projects("halted", person, verb).annotate(
        why_halted=Subquery(halts.values("why")[:1]),
        halted_on=Subquery(halts.values("began_on")[:1]),
    )


def halts_to_lift(person: Any, today: date) -> Iterator[Need]:
    """Halted projects that wait for this vet's or chair's assent."""
    given = Halt.objects.filter(project=OuterRef("pk"), ended_on=None).filter(
        Q(vet_assent=person) | Q(body_assent=person)
    )
    for project in _halted(person, Verb.PROJECT_RESUME).filter(~Exists(given)):
        yield Need(
            what=_("Halted for welfare: %(project)s") % {"project": project},
            why=(
                _("%(why)s Only the veterinary surgeon and the body together lift it.")
                % {"why": _cut(project.why_halted or "")}
            ).strip(),
            step=_("Lift it or let it stand"),
            url=step_url(project, "resume"),
            since=project.halted_on,
        )


def halts_of_oneself(person: Any, today: date) -> Iterator[Need]:
    """Halted projects that their lead may finish early."""
    for project in _halted(person, Verb.PROJECT_FINISH):
        yield Need(
            what=_("Halted, go on or stop: %(project)s") % {"project": project},
            why=(
                _(
                    "%(why)s Only the veterinary surgeon and the body together lift a halt;"
                    " finishing early is yours."
                )
                % {"why": _cut(project.why_halted or "")}
            ).strip(),
            step=_("See how it stands"),
            url=project.get_absolute_url(),
            since=project.halted_on,
        )


def to_close(person: Any, today: date) -> Iterator[Need]:
    """Projects of one's own of which nothing is missing but the close report."""
    here = OuterRef("pk")
    ready = _projects("reporting", person, Verb.PROJECT_CLOSE).filter(
        Exists(Version.objects.held().filter(dataset__project=here, dataset__is_pooled=False)),
        ~Exists(Enrolment.objects.filter(project=here, state="enrolled")),
        ~Exists(Breach.objects.filter(project=here, state="opened")),
        ~Exists(
            Question.objects.filter(studies=OuterRef("study"), state__in=["posted", "taken_on"])
        ),
    )
    for project in ready:
        yield Need(
            what=_("Nothing is missing but the close report: %(project)s") % {"project": project},
            why=_(
                "Its data are held, its questions answered, its animals out, its breaches "
                "explained."
            ),
            step=_("Close the project"),
            url=step_url(project, "close"),
            since=project.ends_on,
        )
