"""Where a proposal is put together: decisions and notices, in the order in which they fall."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from archive.engine.intake.decisions import Choice, Decision, Notice
from archive.engine.intake.names import Namesake
from archive.engine.intake.recipe import Recipe
from archive.engine.limits import Limits


@dataclass
class Desk:
    """What is known before a look, and what comes of it.

    Parameters
    ----------
    fields : list of Namesake
        The dictionary's fields; none where there is no dictionary.
    last : Recipe or None
        The recipe of last time, which goes before what is proposed wherever it fits.
    answers : mapping of key to value
        What the person has chosen so far; it goes before everything else.
    limits : Limits
        For rows, columns and cells.
    """

    fields: list[Namesake]
    last: Recipe | None
    answers: Mapping[str, str]
    limits: Limits
    decisions: list[Decision] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    changes: list[str] = field(default_factory=list)

    def decide(self, key: str, choice: Choice, last: str | None = None) -> str:
        """Hear the answer, then last time's choice, then the proposal; give what goes on."""
        values = [option.value for option in choice.options]
        chosen, reason, sure = choice.chosen, choice.reason, choice.confidence
        if last is not None and last in values and last != chosen and not choice.rejects_last:
            chosen, reason, sure = last, f"As last time. {choice.reason}", max(sure, 0.8)
        elif last is not None and last == chosen:
            reason = f"As last time. {choice.reason}"
        if self.answers.get(key) in values:
            chosen = self.answers[key]
        made = Decision(key, choice.question, chosen, reason, round(sure, 2), choice.options)
        self.decisions.append(made)
        return chosen

    def tell(self, code: str, words: str, count: int = 1, places: Sequence[str] = ()) -> None:
        """Tell what was seen."""
        self.notices.append(Notice(code, words, count, tuple(places)))

    def chosen(self, key: str) -> str:
        """Give what was decided, empty where it was not asked or not said."""
        return next((one.chosen for one in self.decisions if one.key == key), "")
