"""The deed that brings the reference data up to date."""

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db import models, transaction

from registry.desk.models import Vocabulary
from registry.desk.vocabulary import WHAT, Listed
from registry.errors import Unsound
from registry.ledger.actions import Made, record, record_all
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search


@transaction.atomic
def load_vocabulary(lists: Sequence[Listed], *, by: Person) -> list[Vocabulary]:
    """Bring every list up to date; nothing is taken away, and a second time changes nothing.

    Refused when: a row does not hold.
    """
    require(by, Verb.VOCABULARY_LOAD)
    rows = Vocabulary.objects.select_for_update().order_by("pk")
    held = {one.name: one for one in rows}
    loaded: list[Vocabulary] = []
    made: list[Made] = []
    for listed in lists:
        written, new = _load(listed)
        one = held.get(listed.kind.name) or Vocabulary(name=listed.kind.name)
        one.new, one.changed = new, len(written) - new
        told = {"dated": listed.dated, "source": listed.source, "rows": len(listed.rows)}
        if written or any(getattr(one, key) != told[key] for key in told):
            one.dated, one.source, one.rows = listed.dated, listed.source, len(listed.rows)
            one.loaded_by = by
            one.save()
            if listed.kind.verb is not None:
                made += [Made(listed.kind.verb, row) for row in written]
            made.append(Made(Verb.VOCABULARY_LOAD, one, tuple(written)))
        loaded.append(one)
    if made:
        *others, last = made
        record_all(others, by=by)
        record(last.verb, last.row, by=by, touched=last.touched)
    return loaded


def _load(listed: Listed) -> tuple[list[models.Model], int]:
    """Write the rows that are new or changed, and give them, with how many are new."""
    model, key = listed.kind.model, listed.kind.key
    written: list[models.Model] = []
    new = 0
    for number, given in enumerate(listed.rows, 1):
        row = {**_own_source(model, listed), **given}
        found = model._default_manager.filter(**{key: row.get(key)}).first()
        if found is not None and all(getattr(found, field) == row[field] for field in row):
            continue
        new += found is None
        written.append(_write(found or model(), row, f"{listed.kind.file_name}, row {number}"))
    return written, new


def _write(written: models.Model, row: dict[str, Any], where: str) -> models.Model:
    try:
        for field, value in row.items():
            written._meta.get_field(field)
            setattr(written, field, value)
        written.full_clean()
    except (ValidationError, FieldDoesNotExist) as problem:
        raise Unsound(WHAT, f"{where}: {problem}.", "Mend the row and load it again.") from problem
    written.save()
    if hasattr(written, "searched"):
        search.write(written)
    return written


def _own_source(model: type[models.Model], listed: Listed) -> dict[str, str]:
    """Give the list's own source for the rows that name none."""
    if all(field.name != "source" for field in model._meta.get_fields()):
        return {}
    return {"source": f"{listed.source} ({listed.dated.isoformat()})"}
