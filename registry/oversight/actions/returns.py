"""Deeds for the yearly return: what it is asked of people, and publishing it."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.models import (
    Enrolment,
    ReturnCategory,
    StatedOrigin,
    StatedPurpose,
    YearReturn,
)
from registry.oversight.returns import Gaps, newest_edition, packed, reckoned
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import follows, locked, locked_all

_SORTS = ReturnCategory.Sort


@transaction.atomic
def say_purpose(
    project: Project, *, purpose: ReturnCategory, origin: ReturnCategory | None = None, by: Person
) -> Project:
    """Say what a project's regulated work is for, and where its animals were born.

    Refused when: the project is not that far; a category is of another sort.
    """
    require(by, Verb.PROJECT_SAY_PURPOSE, project)
    project = locked(project)
    follows(project, "say_purpose")
    _of_sort(purpose, _SORTS.PURPOSE, "purpose")
    if origin is not None:
        _of_sort(origin, _SORTS.ORIGIN, "origin")
    stated = StatedPurpose.objects.create(
        project=project, purpose=purpose, origin=origin, said_by=by
    )
    record(Verb.PROJECT_SAY_PURPOSE, project, by=by, touched=[stated], purpose=purpose.code)
    return project


@transaction.atomic
def say_origin(
    enrolment: Enrolment, *, origin: ReturnCategory, is_continued: bool = False, by: Person
) -> Enrolment:
    """Say where an enrolled animal was born, and whether its use continues an earlier one.

    Refused when: the category is of another sort.
    """
    require(by, Verb.ENROLMENT_SAY_ORIGIN, enrolment)
    enrolment = locked(enrolment)
    _of_sort(origin, _SORTS.ORIGIN, "origin")
    stated = StatedOrigin.objects.create(
        enrolment=enrolment, origin=origin, is_continued=is_continued, said_by=by
    )
    record(Verb.ENROLMENT_SAY_ORIGIN, enrolment, by=by, touched=[stated], origin=origin.code)
    return enrolment


def _of_sort(category: ReturnCategory, sort: str, field: str) -> None:
    if category.sort != sort:
        raise Unsound(
            "Nothing was written.",
            _("“%(category)s” is a category of %(sort)s.")
            % {"category": category, "sort": category.get_sort_display()},
            "Choose one of the right list.",
            fields={field: "Of another list."},
        )


@transaction.atomic
def publish_return(*, year: int, note: str = "", by: Person) -> YearReturn:
    """Publish the return of a year as it stands; what was published before is kept beside it.

    Refused when: the year is not over; no list of categories is held for it; something was not
    said or not classified; an edition is held and nothing differs, or no note says what is revised.
    """
    require(by, Verb.YEAR_RETURN_PUBLISH)
    what = "The return was not published."
    locked_all(YearReturn, YearReturn.objects.filter(year=year).values("pk"))
    if year >= timezone.localdate().year:
        raise Conflict(
            what,
            _("%(year)s is not over.") % {"year": year},
            "Publish it when the last procedure of the year has ended.",
        )
    try:
        found = reckoned(year)
    except LookupError:
        raise Conflict(
            what,
            _("No list of categories is held for %(year)s.") % {"year": year},
            "Load the reference data, or add a list with its date and source.",
        ) from None
    _complete(what, found.gaps, found.counted.unclassified)
    held = newest_edition(year)
    rows, embryos = packed(found.counted.rows), packed(found.counted.embryos)
    if held is not None:
        _revises(what, held, [rows, embryos], note)
    edition = YearReturn.objects.create(
        year=year,
        edition=held.edition + 1 if held else 1,
        rows=rows,
        embryos=embryos,
        procedures=found.counted.procedures,
        animals=found.counted.animals,
        late_embryos=found.counted.embryos.total(),
        note=note.strip(),
        published_by=by,
    )
    record(
        Verb.YEAR_RETURN_PUBLISH,
        edition,
        by=by,
        reason=edition.note,
        year=year,
        procedures=edition.procedures,
        animals=edition.animals,
    )
    return edition


def _complete(what: str, gaps: Gaps, unclassified: int) -> None:
    if gaps or unclassified:
        counts = (
            (len(gaps.projects), "projects say no purpose or no place of birth"),
            (len(gaps.enrolments), "enrolments say no place of birth"),
            (len(gaps.taxa), "taxa are in no category"),
            (unclassified, "procedures have no actual severity"),
        )
        said = "; ".join(f"{number} {words}" for number, words in counts if number)
        raise Conflict(
            what,
            _("Something is missing: %(said)s.") % {"said": said},
            "The page of the year names each.",
        )


def _revises(what: str, held: YearReturn, rows: list[list[list[object]]], note: str) -> None:
    if [held.rows, held.embryos] == rows:
        raise Conflict(
            what,
            _("Nothing differs from edition %(edition)s.") % {"edition": held.edition},
            "Publish again only what the record gives differently.",
        )
    if not note.strip():
        raise Unsound(
            what,
            _("It would revise edition %(edition)s, and nothing says why.")
            % {"edition": held.edition},
            "Say what is revised, and how it came about.",
            fields={"note": "Say what is revised."},
        )
