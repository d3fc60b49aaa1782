"""What is asked or held already that is close to a question still being written."""

from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict

from registry.search import index
from registry.search.models import FIELD, SearchDocument
from registry.web import number_of

ASKED = ("questions.question",)
HELD = ("archive.dataset", f"archive.dictionary{FIELD}", "answers.answer", "archive.version")
_MOST = 6


@dataclass(frozen=True)
class Similar:
    """Questions that ask the same, and data or answers that may answer it."""

    is_asked: bool = False
    questions: list[SearchDocument] = field(default_factory=list)
    held: list[SearchDocument] = field(default_factory=list)

    @property
    def seen(self) -> str:
        """The documents shown, as the form sends them back."""
        return ",".join(str(one.pk) for one in [*self.questions, *self.held])

    def is_new_to(self, seen: str) -> bool:
        """Say whether there is anything that was not shown yet."""
        return bool({*self.seen.split(",")} - {*seen.split(","), ""})


def similar_to(typed: QueryDict, person: Any) -> Similar:
    """Look for what is close to the question as far as it is typed; four queries at most."""
    title = typed.get("title", "").strip()[:300]
    if not title:
        return Similar()
    taxon = number_of(typed.get("taxon"))
    held = index.near(title, person, _MOST, kinds=HELD, taxon=taxon)
    if taxon is not None:
        known = {one.pk for one in held}
        of_taxon = index.about(taxon, person, _MOST, kinds=HELD[:1])
        held += [one for one in of_taxon if one.pk not in known]
    return Similar(True, index.near(title, person, kinds=ASKED), held[:_MOST])
