"""Deeds that open a cohort: the first one, and the next from the last one's plan."""

from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Part, Verb, require
from registry.projects.models import (
    PLAN_TEXTS,
    Arm,
    DesignPart,
    Member,
    Plan,
    Project,
    Study,
    chosen,
)
from registry.projects.parts import has_standing
from registry.search import index as search
from registry.transitions import follows, locked


@transaction.atomic
def open_project(
    study: Study,
    *,
    cohort: str,
    level: str,
    starts_on: date,
    ends_on: date,
    lead: Person,
    keeper_hours_week: float = 0,
    by: Person,
) -> Project:
    """Open a project: one cohort's piece of work in a study, with its lead supervisor.

    Refused when: it ends before it starts; the study has a cohort of that label; the lead is no
    supervisor; the keepers' hours are below 0 or more than a week has.
    """
    require(by, Verb.STUDY_OPEN_PROJECT, study)
    study = locked(study)
    if not 0 <= keeper_hours_week <= 168:
        raise Unsound(
            "The cohort was not opened.",
            "Keeper time is 0 to 168 hours a week.",
            "Give the hours that the keepers would spend in a week.",
            fields={"keeper_hours_week": "0 to 168."},
        )
    project = _opened(study, cohort, level, starts_on, ends_on, lead, by)
    project.keeper_hours_week = keeper_hours_week
    project.save()
    member = Member.objects.create(project=project, person=lead, part=Part.LEAD)
    plan = Plan.objects.create(project=project)
    search.write(project)
    record(
        Verb.STUDY_OPEN_PROJECT,
        project,
        by=by,
        after=project.state,
        touched=[member, plan],
        study=study.pk,
    )
    return project


def _opened(
    study: Study,
    cohort: str,
    level: str,
    starts_on: date,
    ends_on: date,
    lead: Person,
    by: Person,
) -> Project:
    """Give a project that is not saved yet, after the checks that every cohort passes."""
    what = "The cohort was not opened."
    if ends_on < starts_on:
        raise Unsound(
            what,
            "It would end before it starts.",
            "Give a later last day.",
            fields={"ends_on": "Before the first day."},
        )
    if study.projects.filter(cohort__iexact=cohort).exists():
        raise Unsound(
            what,
            _("The study has a cohort “%(cohort)s” already.") % {"cohort": cohort},
            "Give another label.",
            fields={"cohort": "It is taken."},
        )
    has_standing(lead, Part.LEAD, what, "lead")
    return Project(
        study=study, cohort=cohort, level=level, starts_on=starts_on, ends_on=ends_on, opened_by=by
    )


@transaction.atomic
def extend_project(
    project: Project, *, cohort: str, starts_on: date, ends_on: date, lead: Person, by: Person
) -> Project:
    """Open the next cohort from this one's plan; permissions are asked anew, the dictionary stays.

    Refused when: it ends before it starts; the study has a cohort of that label; the lead is no
    supervisor.
    """
    require(by, Verb.PROJECT_EXTEND, project)
    study = locked(project.study)
    project = locked(project)
    follows(project, "extend")
    following = _opened(study, cohort, project.level, starts_on, ends_on, lead, by)
    following.keeper_hours_week = project.keeper_hours_week
    following.extends = project
    following.save()
    member = Member.objects.create(project=following, person=lead, part=Part.LEAD)
    last = project.plan
    plan = Plan.objects.create(
        project=following, **{name: getattr(last, name) for name in PLAN_TEXTS}
    )
    plan.procedures.set(last.procedures.all())
    plan.places.set(last.places.all())
    parts = [
        DesignPart.objects.create(
            plan=plan,
            part=one.part,
            given=one.given,
            told=one.told,
            said=one.said,
            taken_by=by,
        )
        for one in last.design_parts.filter(is_dropped=False).exclude(
            part=DesignPart.Part.SCHEDULE  # its days are over
        )
    ]
    arms = [
        Arm.objects.create(
            plan=plan, name=arm.name, taxon=arm.taxon, units=arm.units, animals=arm.animals
        )
        for arm in last.arms.filter(is_dropped=False)
    ]
    search.write(following)
    record(
        Verb.PROJECT_EXTEND,
        following,
        by=by,
        after=following.state,
        touched=[member, plan, *arms, *parts],
        extends=project.pk,
        **chosen(plan),
    )
    return following
