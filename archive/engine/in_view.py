"""Which animals a table has in which session: the pairs, each once, whatever the rows."""

import csv
from collections.abc import Iterator, Mapping
from typing import Any, TextIO

from archive.engine.reading import reader_options
from archive.engine.roles import FieldRole, fields_with_role, missing_values


def pairs_in(
    opened: TextIO, schema: Mapping[str, Any], layout: Mapping[str, Any]
) -> Iterator[tuple[str, str]]:
    r"""Give the code of the session and of the animal or group of each row, each pair once.

    Parameters
    ----------
    opened : TextIO
        The table, opened with `newline=""`; it is read as a stream.
    schema : mapping
        Its Table Schema, in which `x:role` says which columns hold sessions, animals and groups.
    layout : mapping
        Its csv layout: `delimiter`, `quoteChar` and the like.

    Yields
    ------
    tuple of str and str
        Nothing where no column holds sessions, or none holds animals or groups.

    Examples
    --------
    >>> import io
    >>> roles = [("session", "session"), ("ray", "animal")]
    >>> schema = {"fields": [{"name": name, "x:role": role} for name, role in roles]}
    >>> list(pairs_in(io.StringIO("session,ray\nS1,R-1\nS1,R-1\nS2,\n"), schema, {}))
    [('S1', 'R-1')]
    """
    sessions = fields_with_role(schema, FieldRole.SESSION)
    subjects = fields_with_role(schema, FieldRole.ANIMAL, FieldRole.GROUP)
    if not sessions or not subjects:
        return
    rows = csv.DictReader(opened, **reader_options(layout))
    rows.fieldnames = [name.strip() for name in rows.fieldnames or ()]
    empty = {name: missing_values(schema, name) | {""} for name in (*sessions, *subjects)}
    given: set[tuple[str, str]] = set()
    for row in rows:
        session = (row.get(sessions[0]) or "").strip()
        for name in subjects:
            subject = (row.get(name) or "").strip()
            pair = (session, subject)
            if session in empty[sessions[0]] or subject in empty[name] or pair in given:
                continue
            given.add(pair)
            yield pair
