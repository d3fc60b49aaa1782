"""On which day a row happened: its own time column, else the day of its session."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from archive.engine.checks.chunk import Chunk
from archive.engine.facts import RegisterFacts
from archive.engine.intervals import Days, codes_of, days_of
from archive.engine.roles import FieldRole, fields_with_role, role_of


class RowDays:
    """Give the day of each row of a chunk, NaT where nothing says it."""

    def __init__(self, schema: Mapping[str, Any], facts: RegisterFacts) -> None:
        self.time = next(
            (
                str(field["name"])
                for field in schema.get("fields", [])
                if role_of(field) is FieldRole.TIME and field.get("type") in {"date", "datetime"}
            ),
            "",
        )
        self.session = next(iter(fields_with_role(schema, FieldRole.SESSION)), "")
        self.reads = tuple(filter(None, (self.time, self.session)))
        self.held = {held.code: held.start.date() for held in facts.sessions or ()}

    def of(self, chunk: Chunk) -> Days:
        """Give the days of a chunk as datetime64[D]."""
        if self.time in chunk.columns:
            days = days_of(chunk.columns[self.time])
        else:
            days = np.full(len(chunk.rows), np.datetime64("NaT"), dtype="datetime64[D]")
        if self.session in chunk.columns and self.held:
            codes = codes_of(chunk.columns[self.session])
            from_session = days_of(self.held.get(code) for code in codes)
            days = np.where(np.isnat(days), from_session, days)
        return days
