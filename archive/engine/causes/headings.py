"""Headings that are the dictionary's but for capitals, spaces, hyphens and underscores."""

from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import folded, listed
from archive.engine.corrections.headings import RenameColumns
from archive.engine.roles import fields_of

CLOSE = 0.75


class HeadingsAlike:
    """Suspects columns that only need another spelling of their heading."""

    kind: ClassVar[str] = "headings-alike"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Compare the headings that are not known with the columns that are missing."""
        missing = [name for name in sheet.names if name not in sheet.labels]
        strange = [label for label in sheet.labels if label and label not in sheet.names]
        if not missing or not strange:
            return
        titles = {str(one["name"]): str(one.get("title") or "") for one in fields_of(sheet.schema)}
        meant = {
            label: [n for n in missing if folded(label) in {folded(n), folded(titles[n])}]
            for label in strange
        }
        alike = {label: names[0] for label, names in meant.items() if len(names) == 1}
        if alike and len(set(alike.values())) == len(alike):
            yield self._said(sheet, alike, "")
            return
        left = [label for label in strange if label not in alike]
        close = {
            label: found[0]
            for label in left
            if (found := get_close_matches(label, missing, 1, CLOSE))
        }
        if close:
            why = "They are not quite the same; somebody must say that the same is meant."
            yield self._said(sheet, close, why)

    def _said(self, sheet: Sheet, names: dict[str, str], refused: str) -> Suspicion:
        pairs = listed(f"{old}” for “{new}" for old, new in names.items())
        return Suspicion(
            kind=self.kind,
            what="Headings are spelt in another way than in the dictionary.",
            why=f"{pairs}." if refused else f"{pairs}: only capitals, spaces or hyphens differ.",
            remedy="Write the headings just as the dictionary has them, in the first row.",
            table=sheet.table,
            columns=tuple(names.values()),
            rows=(1,),
            count=len(names),
            correction=None if refused else RenameColumns(tuple(names.items())),
            refused=refused,
        )
