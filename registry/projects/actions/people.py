"""Deeds on who takes part in a project, and the data agreement that students sign."""

from datetime import date

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Part, Verb, require
from registry.projects.models import Agreement, Member, Project
from registry.projects.parts import has_standing
from registry.transitions import follows, locked


@transaction.atomic
def assign_member(
    project: Project,
    *,
    person: Person,
    part: str,
    course_ends_on: date | None = None,
    by: Person,
) -> Member:
    """Give a person a part in a project; a new lead supervisor takes over from the last one.

    `course_ends_on` is when a student's course is over: what they need must be decided before.

    Refused when: they have that part already; they are its lead supervisor; they lack the standing
    that the part needs.
    """
    require(by, Verb.PROJECT_ASSIGN, project)
    project = locked(project)
    follows(project, "assign")
    what = "Nobody was assigned."
    has_standing(person, part, what, "person")
    live = project.members.live().select_for_update()
    held = live.filter(person=person).first()
    if held is not None and held.part == part:
        raise Conflict(
            what,
            _("%(person)s is its %(part)s already.")
            % {"person": person, "part": held.get_part_display()},
            "Nothing needs doing.",
        )
    if held is not None and held.part == Part.LEAD:
        raise Unsound(
            what,
            _("%(person)s is its lead supervisor, and a project always has one.")
            % {"person": person},
            "Assign another lead supervisor first.",
            fields={"part": "A project always has a lead supervisor."},
        )
    leads = live.filter(part=Part.LEAD) if part == Part.LEAD else live.none()
    ended = [one for one in (held, *leads) if one is not None]
    for one in ended:
        one.ended_on = timezone.localdate()
        one.save(update_fields=["ended_on"])
    member = Member.objects.create(
        project=project, person=person, part=part, course_ends_on=course_ends_on
    )
    record(
        Verb.PROJECT_ASSIGN,
        project,
        by=by,
        touched=[*ended, member],
        person=person.pk,
        part=str(part),
    )
    return member


@transaction.atomic
def end_membership(project: Project, *, person: Person, reason: str, by: Person) -> Member:
    """End a person's part in a project.

    Refused when: they have none; they are its lead supervisor.
    """
    require(by, Verb.PROJECT_UNASSIGN, project)
    project = locked(project)
    follows(project, "unassign")
    what = "Nobody's part was ended."
    member = project.members.live().filter(person=person).first()
    if member is None:
        raise Conflict(
            what, _("%(person)s has no part in it.") % {"person": person}, "Look at the page again."
        )
    if member.part == Part.LEAD:
        raise Unsound(
            what,
            _("%(person)s is its lead supervisor, and a project always has one.")
            % {"person": person},
            "Assign another lead supervisor, who takes over.",
            fields={"person": "The lead supervisor hands over instead."},
        )
    member.ended_on = timezone.localdate()
    member.save(update_fields=["ended_on"])
    record(Verb.PROJECT_UNASSIGN, project, by=by, reason=reason, touched=[member], person=person.pk)
    return member


@transaction.atomic
def sign_agreement(
    project: Project, *, terms: str, embargo_months: int = 0, signed_name: str, by: Person
) -> Agreement:
    """Sign the data agreement as a student of the project.

    Refused when: one has signed already; the name is not one's own; an embargo has no months, or
    more than the house allows; there are months without an embargo.
    """
    require(by, Verb.PROJECT_SIGN_AGREEMENT, project)
    project = locked(project)
    follows(project, "sign_agreement")
    what = "The agreement was not signed."
    if project.agreements.filter(person=by).exists():
        raise Conflict(what, "You signed it already.", "Nothing needs doing.")
    if " ".join(signed_name.split()).casefold() != by.name.casefold():
        raise Unsound(
            what,
            "The name typed is not the one under which you signed in.",
            _("Type your name as it stands here: %(by)s.") % {"by": by.name},
            fields={"signed_name": _("Type it as it stands here: %(by)s.") % {"by": by.name}},
        )
    longest = settings.EMBARGO_CAP_MONTHS
    is_embargoed = terms == Agreement.Terms.EMBARGOED
    if is_embargoed != (embargo_months > 0) or embargo_months > longest:
        raise Unsound(
            what,
            _("An embargo lasts 1 to %(longest)s months, and only an embargo has months.")
            % {"longest": longest},
            "Give the months with the embargo, or 0 with other terms.",
            fields={
                "embargo_months": _("1 to %(longest)s with an embargo, else 0.")
                % {"longest": longest}
            },
        )
    agreement = Agreement.objects.create(
        project=project,
        person=by,
        terms=terms,
        embargo_months=embargo_months,
        signed_name=signed_name,
    )
    record(
        Verb.PROJECT_SIGN_AGREEMENT,
        project,
        by=by,
        touched=[agreement],
        terms=str(terms),
        embargo_months=embargo_months,
    )
    return agreement
