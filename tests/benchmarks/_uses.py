"""A register of so many uses, written row by row without the deeds; what counts them, measured."""

import json
import os
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import batched
from typing import Any

from django.db import connection
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Taxon
from registry.approvals.models import Approval, Limit, Need, PermissionKind, Screening
from registry.ledger import proof, seal
from registry.ledger.chain import START, canonical, digest_of, reason_digest
from registry.ledger.models import Entry
from registry.oversight.bars import margins_of
from registry.oversight.bars.entering import barred_from_enrolment
from registry.oversight.models import BookedSubject, Booking, Enrolment, ReturnCategory, Use
from registry.oversight.returns import reckoned
from registry.oversight.sweep import Swept, sweep
from registry.people.models import Body, Institution, Person
from registry.projects.models import Plan, Procedure, Project, Study

BATCH = 5_000
USES_A_PROJECT = 400
ANIMALS_A_PROJECT = 10
APPROVALS_A_PROJECT = 4
DAYS = 300
FIRST = date(2025, 1, 10)
RETURN_YEAR = 2025


def lay_out(uses: int) -> Booking:
    """Write the projects, approvals, animals and uses; one in ten projects is regulated.

    One use in a thousand is harder than its approval allows. Gives a booking of ten more animals.
    """
    by = Person.objects.filter(is_system=True).first() or Person.objects.create(
        email="keeper@example.org", name="A keeper", is_system=True
    )
    number = uses // USES_A_PROJECT
    taxon = Taxon.objects.create(
        scientific_name="Raja undulata",
        common_name="undulate ray",
        taxon_class="cartilaginous_fish",
    )
    home = Enclosure.objects.create(code="B1", name="Pool")
    procedure = Procedure.objects.create(code="netting", name="netting", severity=1)
    kinds = [
        PermissionKind.objects.create(
            code=f"kind-{n}", name=f"permission {n}", satisfied_by="approval", is_always_asked=True
        )
        for n in range(APPROVALS_A_PROJECT)
    ]
    body = Body.objects.create(
        name="Committee", institution=Institution.objects.create(name="House"), quorum=1
    )
    ReturnCategory.objects.create(
        code="other-fish",
        sort="species",
        name="Other fish",
        from_year=2021,
        classes="cartilaginous_fish",
    )
    animals = Animal.objects.bulk_create(
        [
            Animal(code=f"a{n}", taxon=taxon, enclosure=home, arrived_on=FIRST)
            for n in range((number + 1) * ANIMALS_A_PROJECT)
        ],
        batch_size=BATCH,
    )
    projects = _projects(number, by)
    _approve(projects, kinds, body, taxon, procedure, home, by)
    enrolments = _enrol(projects, animals, by)
    for some in batched(_rows(uses, projects, enrolments, procedure, home, by), BATCH):
        Use.objects.bulk_create(some)
    booking = Booking.objects.create(
        project=projects[0],
        asked_by=by,
        wish="more",
        starts_on=FIRST,
        ends_on=FIRST + timedelta(days=DAYS),
        state="confirmed",
    )
    BookedSubject.objects.bulk_create(
        [BookedSubject(booking=booking, animal=one) for one in animals[-ANIMALS_A_PROJECT:]]
    )
    return booking


def _projects(number: int, by: Person) -> list[Project]:
    study = Study.objects.create(title="Rays", aim="Much.", opened_by=by)
    projects = Project.objects.bulk_create(
        [
            Project(
                study=study,
                cohort=f"cohort {n}",
                level="research_masters",
                starts_on=FIRST,
                ends_on=FIRST + timedelta(days=DAYS),
                opened_by=by,
                state="collecting",
            )
            for n in range(number)
        ],
        batch_size=BATCH,
    )
    plans = Plan.objects.bulk_create(
        [Plan(project=one, max_severity=1) for one in projects], batch_size=BATCH
    )
    procedure = Procedure.objects.get()
    through = Plan.procedures.through
    through.objects.bulk_create(
        [through(plan=one, procedure=procedure) for one in plans], batch_size=BATCH
    )
    return projects


def _approve(
    projects: list[Project],
    kinds: list[PermissionKind],
    body: Body,
    taxon: Taxon,
    procedure: Procedure,
    home: Enclosure,
    by: Person,
) -> None:
    given = datetime(2025, 1, 1, 9, tzinfo=UTC)
    pairs = [(project, kind) for project in projects for kind in kinds]
    Need.objects.bulk_create(
        [Need(project=p, permission=k, is_needed=True, said_by=by) for p, k in pairs],
        batch_size=BATCH,
    )
    approvals = Approval.objects.bulk_create(
        [
            Approval(
                permission=kind,
                body=body,
                title=f"approval of {project.pk}",
                case="c",
                starts_on=FIRST,
                ends_on=FIRST + timedelta(days=DAYS),
                max_severity=1,
                asked_by=by,
                decided_by=by,
                decided_at=given,
                state="approved",
            )
            for project, kind in pairs
        ],
        batch_size=BATCH,
    )
    of, places = Approval.projects.through, Approval.places.through
    of.objects.bulk_create(
        [of(approval=a, project=p) for a, (p, _k) in zip(approvals, pairs, strict=True)],
        batch_size=BATCH,
    )
    places.objects.bulk_create(
        [places(approval=one, enclosure=home) for one in approvals], batch_size=BATCH
    )
    Limit.objects.bulk_create(
        [
            Limit(approval=one, taxon=taxon, procedure=procedure, max_animals=20)
            for one in approvals
        ],
        batch_size=BATCH,
    )
    Screening.objects.bulk_create(
        [
            Screening(
                project=one,
                procedure=procedure,
                taxon=taxon,
                life_stage="adult",
                facts='{"jurisdiction": "uk", "plan": {}}',
                rule_version="r",
                is_protected=True,
                said="regulated",
                why="w",
                answer="regulated",
                screened_by=by,
            )
            for one in projects[::10]
        ],
        batch_size=BATCH,
    )


def _enrol(projects: list[Project], animals: list[Animal], by: Person) -> list[Enrolment]:
    last = FIRST + timedelta(days=DAYS)
    bookings = Booking.objects.bulk_create(
        [
            Booking(project=one, asked_by=by, wish="w", starts_on=FIRST, ends_on=last)
            for one in projects
        ],
        batch_size=BATCH,
    )
    return Enrolment.objects.bulk_create(
        [
            Enrolment(
                project=project,
                booking=booking,
                animal=animals[at * ANIMALS_A_PROJECT + n],
                code=f"R{n}",
                life_stage="adult",
                from_on=FIRST,
                left_on=last,
                actual_severity=1,
                enrolled_by=by,
                state="discharged",
            )
            for at, (project, booking) in enumerate(zip(projects, bookings, strict=True))
            for n in range(ANIMALS_A_PROJECT)
        ],
        batch_size=BATCH,
    )


def _rows(
    uses: int,
    projects: list[Project],
    enrolments: list[Enrolment],
    procedure: Procedure,
    home: Enclosure,
    by: Person,
) -> Iterator[Use]:
    begun = datetime(2025, 1, 10, 9, tzinfo=UTC)
    for n in range(uses):
        at = n // USES_A_PROJECT
        nth = n % USES_A_PROJECT
        under = enrolments[at * ANIMALS_A_PROJECT + nth % ANIMALS_A_PROJECT]
        moment = begun + timedelta(days=nth % DAYS, minutes=nth)
        yield Use(
            project=projects[at],
            animal_id=under.animal_id,
            enrolment=under,
            procedure=procedure,
            place=home,
            happened_at=moment,
            recorded_at=moment,
            recorded_by=by,
            severity=2 if n % 1000 == 999 else 1,
        )


def write_ledger(number: int) -> None:
    """Write a ledger of so many entries whose chain holds."""
    by = Person.objects.filter(is_system=True).first()
    assert by is not None
    now = timezone.now()
    nothing = reason_digest("", "")

    def entries() -> Iterator[Entry]:
        previous = START
        for n in range(1, number + 1):
            subject = f"oversight.use:{n}"
            facts = {
                "number": n,
                "at": now.isoformat(),
                "verb": "project.record_use",
                "subject": subject,
                "actor": by.pk,
                "before": "",
                "after": "",
                "project": None,
                "reason": nothing,
                "digest": "0" * 64,
                "touched": {},
                "details": {},
                "confidential": False,
            }
            text = canonical(facts)
            digest = digest_of(text, previous)
            yield Entry(
                number=n,
                at=now,
                verb="project.record_use",
                subject=subject,
                actor=by,
                text=text,
                previous=previous,
                digest=digest,
            )
            previous = digest

    with seal.opened():
        Entry.objects.all().delete()
    for some in batched(entries(), BATCH):
        Entry.objects.bulk_create(some)


def measured(asked: Callable[[], object], *, is_long: bool) -> dict[str, float]:
    """Give queries, seconds and megabytes; what is long is asked once more only for its memory."""
    if not is_long:
        asked()
    made = []

    def counting(execute: Any, *given: Any) -> Any:
        made.append(1)
        return execute(*given)

    with connection.execute_wrapper(counting):
        began = time.perf_counter()
        asked()
        took = time.perf_counter() - began
    peak = 0.0
    if not is_long or os.environ.get("MEMORY"):
        tracemalloc.start()
        asked()
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
    return {"queries": len(made), "s": took, "mb": peak}


def _sweep() -> None:
    swept = Swept()
    untold = sum(1 for _one in sweep(swept))
    assert untold == swept.outside > 0


def _verify() -> None:
    found, reading = proof.check()
    assert found == [], found[:3]
    assert reading.entries > 0


def main() -> None:
    """Lay the register out, and print what each case took as one JSON object."""
    uses, entries = int(sys.argv[1]), int(sys.argv[2])
    began = time.perf_counter()
    booking = lay_out(uses)
    print(f"  {uses} uses written in {time.perf_counter() - began:.0f} s", file=sys.stderr)
    write_ledger(entries)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    subjects = list(
        booking.subjects.select_related(
            "animal__taxon", "animal__enclosure", "group__taxon", "group__enclosure"
        )
    )
    day = FIRST + timedelta(days=20)
    cases: dict[str, tuple[Callable[[], object], bool]] = {
        "enrolment check": (lambda: barred_from_enrolment(booking, subjects, day), False),
        "margins of a booking": (lambda: margins_of(booking, day), False),
        "breach sweep": (_sweep, True),
        "yearly return": (lambda: reckoned(RETURN_YEAR), True),
        "ledger verified": (_verify, True),
    }
    found = {name: measured(asked, is_long=is_long) for name, (asked, is_long) in cases.items()}
    print(json.dumps(found))


if __name__ == "__main__":
    main()
