"""Taxa, enclosures, animals, groups and restrictions for the tests."""

from datetime import date, timedelta
from itertools import count
from typing import Any

from django.utils import timezone

from registry.animals import actions
from registry.animals.intake.reading import Line, Sheet
from registry.animals.models import (
    Animal,
    EggCase,
    Enclosure,
    Group,
    Intake,
    LifeStage,
    Loan,
    Restriction,
    Sex,
    Taxon,
)
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.people import make_institution, make_person

_number = count(1)
STAY_D = 400
"""How many days ago animals arrive in the tests, unless said otherwise."""


def days_ago(days: int) -> date:
    """Give the day so many days before today; negative ones are to come."""
    return timezone.localdate() - timedelta(days=days)


def make_taxon(
    scientific_name: str = "",
    common_name: str = "",
    taxon_class: str = "",
    *,
    by: Person | None = None,
) -> Taxon:
    """Give a taxon; without a name the undulate ray, made once."""
    name = scientific_name or "Raja undulata"
    held = Taxon.objects.filter(scientific_name=name).first()
    return held or actions.add_taxon(
        scientific_name=name,
        common_name=common_name or scientific_name or "undulate ray",
        taxon_class=taxon_class or "cartilaginous_fish",
        source="a test",
        by=by or make_person(Role.CURATOR),
    )


def make_enclosure(code: str = "", *, name: str = "", by: Person | None = None) -> Enclosure:
    """Give a new enclosure."""
    said = code or f"T{next(_number)}"
    return actions.open_enclosure(
        code=said, name=name or f"Tank {said}", is_on_show=False, by=by or make_person(Role.CURATOR)
    )


def make_intake(*, by: Person | None = None) -> Intake:
    """Give a list of one animal that was brought in."""
    by = by or make_person(Role.CURATOR)
    taxon, home, n = make_taxon(by=by), make_enclosure(by=by), next(_number)
    cells = {
        "code": f"L{n}",
        "taxon": taxon.scientific_name,
        "enclosure": home.code,
        "arrived_on": days_ago(STAY_D).isoformat(),
    }
    sheet = Sheet(f"list-{n}.csv", f"{n:064x}", "utf-8", ",", (Line(2, cells),))
    return actions.import_animals(sheet, by=by)


def make_animal(
    *,
    code: str = "",
    name: str = "",
    taxon: Taxon | None = None,
    enclosure: Enclosure | None = None,
    sex: str = Sex.FEMALE,
    life_stage: str = LifeStage.ADULT,
    arrived_on: date | None = None,
    by: Person | None = None,
    **more: Any,
) -> Animal:
    """Give an animal that has lived here for some time."""
    by = by or make_person(Role.CURATOR)
    return actions.receive_animal(
        code=code or f"A{next(_number)}",
        name=name,
        taxon=taxon or make_taxon(by=by),
        sex=sex,
        life_stage=life_stage,
        enclosure=enclosure or make_enclosure(by=by),
        arrived_on=arrived_on or days_ago(STAY_D),
        by=by,
        **more,
    )


def make_animals(n: int, *, by: Person | None = None, **shared: Any) -> list[Animal]:
    """Give so many animals of one taxon in one enclosure."""
    by = by or make_person(Role.CURATOR)
    shared.setdefault("taxon", make_taxon(by=by))
    shared.setdefault("enclosure", make_enclosure(by=by))
    return [make_animal(by=by, **shared) for _ in range(n)]


def make_group(
    *,
    code: str = "",
    name: str = "",
    sort: str = "shoal",
    taxon: Taxon | None = None,
    enclosure: Enclosure | None = None,
    life_stage: str = LifeStage.JUVENILE,
    males: int = 2,
    females: int = 3,
    unknown: int = 4,
    arrived_on: date | None = None,
    by: Person | None = None,
) -> Group:
    """Give a counted group, 2.3.4 unless said otherwise."""
    by = by or make_person(Role.CURATOR)
    said = code or f"G{next(_number)}"
    return actions.receive_group(
        code=said,
        name=name or f"Group {said}",
        sort=sort,
        taxon=taxon or make_taxon(by=by),
        life_stage=life_stage,
        enclosure=enclosure or make_enclosure(by=by),
        males=males,
        females=females,
        unknown=unknown,
        arrived_on=arrived_on or days_ago(STAY_D),
        by=by,
    )


def make_restriction(
    subject: Animal | Group | Enclosure,
    *,
    sort: str = "welfare",
    strength: str = Restriction.Strength.BARS_ALL,
    began_on: date | None = None,
    by: Person | None = None,
    **more: Any,
) -> Restriction:
    """Give a restriction that a veterinary surgeon began, from today unless said otherwise."""
    if sort == "quarantine":
        more.setdefault("earliest_end_on", began_on or timezone.localdate())
    return actions.begin_restriction(
        subject,
        sort=sort,
        strength=strength,
        note="Raw edge, right wing.",
        began_on=began_on or timezone.localdate(),
        by=by or make_person(Role.VET),
        **more,
    )


def make_case(
    *,
    code: str = "",
    taxon: Taxon | None = None,
    enclosure: Enclosure | None = None,
    laid_on: date | None = None,
    embryos: int = 1,
    by: Person | None = None,
    **more: Any,
) -> EggCase:
    """Give an egg case that was laid sixty days ago, unless said otherwise."""
    by = by or make_person(Role.CURATOR)
    return actions.record_case(
        code=code or f"E{next(_number)}",
        taxon=taxon or make_taxon(by=by),
        enclosure=enclosure or make_enclosure(by=by),
        laid_on=laid_on or days_ago(60),
        embryos=embryos,
        by=by,
        **more,
    )


def make_loan(subject: Animal | Group | None = None, **more: Any) -> Loan:
    """Give a loan to this collection that began thirty days ago, unless said otherwise."""
    given: dict[str, Any] = {
        "direction": "in",
        "institution": more.pop("institution", None) or make_institution("An aquarium elsewhere"),
        "began_on": days_ago(30),
        "terms": "Young are shared, the first to its owner.",
        "by": make_person(Role.CURATOR),
        **more,
    }
    return actions.lend(subject or make_animal(), **given)
