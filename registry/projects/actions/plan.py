"""Deeds on a project's plan and its design review."""

from collections.abc import Iterable
from hashlib import sha256
from typing import Any

from django.db import transaction
from django.db.models import Model
from django.utils.translation import gettext as _

from registry.animals.models import Enclosure, Taxon
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.designed import sealed, snapshot, standing
from registry.projects.gaps import gaps_of
from registry.projects.models import (
    PLAN_TEXTS,
    Arm,
    DesignPart,
    PlanVersion,
    Procedure,
    Project,
    Review,
    chosen,
)
from registry.transitions import follows, locked, move, reasoned


def _drafted(project: Project, verb: str) -> Project:
    project = locked(project)
    follows(project, verb)
    return project


@transaction.atomic
def write_plan(
    project: Project,
    *,
    procedures: Iterable[Procedure] | None = None,
    places: Iterable[Enclosure] | None = None,
    keyholders: Iterable[Person] | None = None,
    by: Person,
    **written: Any,
) -> Project:
    """Write the plan; what is left out stays as it was.

    Refused when: something is not part of a plan.
    """
    require(by, Verb.PROJECT_WRITE_PLAN, project)
    project = _drafted(project, "write_plan")
    strange = sorted(set(written) - set(PLAN_TEXTS))
    if strange:
        raise Unsound(
            "The plan was not written.",
            _("A plan has no %(strange)s.") % {"strange": ", ".join(strange)},
            "Look at the plan's page for what it holds.",
            fields=dict.fromkeys(strange, "Not part of a plan."),
        )
    plan = project.plan
    for name, value in written.items():
        setattr(plan, name, value)
    plan.save()
    if procedures is not None:
        plan.procedures.set(procedures)
    if places is not None:
        plan.places.set(places)
    if keyholders is not None:
        plan.keyholders.set(keyholders)
    record(
        Verb.PROJECT_WRITE_PLAN,
        project,
        by=by,
        touched=[plan],
        written=sorted(written),
        **chosen(plan),
    )
    return project


@transaction.atomic
def add_arm(
    project: Project, *, name: str, taxon: Taxon, units: int, animals: int, by: Person
) -> Arm:
    """Add a treatment or group to the plan, with its numbers.

    Refused when: there is one of that name.
    """
    require(by, Verb.PROJECT_ADD_ARM, project)
    project = _drafted(project, "add_arm")
    if project.plan.arms.filter(name__iexact=name, is_dropped=False).exists():
        raise Unsound(
            "It was not added.",
            _("The plan has a treatment or group “%(name)s” already.") % {"name": name},
            "Give another name, or drop that one first.",
            fields={"name": "It is taken."},
        )
    arm = Arm.objects.create(
        plan=project.plan, name=name, taxon=taxon, units=units, animals=animals
    )
    record(
        Verb.PROJECT_ADD_ARM, project, by=by, touched=[arm], name=name, units=units, animals=animals
    )
    return arm


@transaction.atomic
def drop_arm(project: Project, *, arm: Arm, by: Person) -> Project:
    """Drop a treatment or group from the plan.

    Refused when: it is not in the plan.
    """
    require(by, Verb.PROJECT_DROP_ARM, project)
    project = _drafted(project, "drop_arm")
    arm = locked(arm)
    if arm.plan_id != project.plan.pk or arm.is_dropped:
        raise Conflict("It was not dropped.", "It is not in this plan.", "Look at the page again.")
    arm.is_dropped = True
    arm.save(update_fields=["is_dropped"])
    record(Verb.PROJECT_DROP_ARM, project, by=by, touched=[arm], name=arm.name)
    return project


@transaction.atomic
def submit_plan(project: Project, *, by: Person) -> Project:
    """Submit the plan for its design review.

    Refused when: it lacks its experimental unit, outcome, reason for the numbers, analysis, data
    plan, procedures or places; it has no treatment or group; one has no unit, or fewer animals than
    units; there is contact and no humane end-point; there is no lead supervisor or no student.
    """
    require(by, Verb.PROJECT_SUBMIT, project)
    project = locked(project)
    follows(project, "submit")
    lacking = gaps_of(project)
    if lacking:
        raise Unsound(
            "The plan was not submitted.",
            _("It lacks %(lacking)s.") % {"lacking": "; ".join(said for _name, said in lacking)},
            "Write these into the plan, then submit it again.",
            fields={name: f"Missing: {said}." for name, said in lacking if name},
        )
    before, after = move(project, "submit")
    text = snapshot(project.plan)
    version = PlanVersion.objects.create(
        plan=project.plan,
        number=project.plan.versions.count() + 1,
        text=text,
        digest=sha256(text.encode()).hexdigest(),
        written_by=by,
    )
    record(
        Verb.PROJECT_SUBMIT,
        project,
        by=by,
        before=before,
        after=after,
        touched=[version],
        version=version.number,
        plan=version.digest,
    )
    return project


def _reviewed(
    project: Project,
    verb: Verb,
    remarks: str,
    *,
    by: Person,
    touched: Iterable[Model] = (),
    **details: Any,
) -> Project:
    is_accepted = verb == Verb.PROJECT_ACCEPT
    before, after = move(project, verb.split(".")[1])
    review = Review.objects.create(
        project=project, reviewer=by, is_accepted=is_accepted, remarks=remarks
    )
    record(
        verb,
        project,
        by=by,
        before=before,
        after=after,
        reason=remarks,
        touched=[review, *touched],
        review=review.pk,
        **details,
    )
    return project


@transaction.atomic
def return_plan(project: Project, *, reason: str, by: Person) -> Project:
    """Return the plan for changes, as a supervisor who is not a member.

    Refused when: there are no remarks.
    """
    require(by, Verb.PROJECT_RETURN, project)
    project = locked(project)
    reason = reasoned(project, "return", reason)
    return _reviewed(project, Verb.PROJECT_RETURN, reason, by=by)


@transaction.atomic
def accept_plan(project: Project, *, remarks: str = "", by: Person) -> Project:
    """Accept the plan, as a supervisor who is not a member; it is locked from then on.

    Where it has an allocation, that is drawn from a secret seed now: the digest of the seed goes
    into the ledger, and the keyholders alone can read who gets what.
    """
    require(by, Verb.PROJECT_ACCEPT, project)
    project = locked(project)
    follows(project, "accept")
    touched: list[Model] = []
    details: dict[str, Any] = {}
    version = project.plan.versions.last()
    if version is not None:
        version.is_accepted = True
        version.save(update_fields=["is_accepted"])
        touched.append(version)
        details["plan"] = version.digest
    part = standing(project.plan).get(DesignPart.Part.ALLOCATION)
    if part is not None:
        drawn = sealed(part, project.plan)
        drawn.save()
        touched.append(drawn)
        details |= {"commitment": drawn.commitment, "allocation": drawn.digest}
    return _reviewed(project, Verb.PROJECT_ACCEPT, remarks, by=by, touched=touched, **details)
