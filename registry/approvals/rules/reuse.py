"""Say whether an animal that was used before may be used again; continued use is another thing.

References
----------
Animals (Scientific Procedures) Act 1986, s.14; Directive 2010/63/EU, art. 16. That continued use
needs the same animal because of its earlier steps, and is one use, is from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from registry.approvals.rules.law import SEVERE, Rules


@dataclass(frozen=True, slots=True)
class EarlierUse:
    """A use that an animal went through.

    Parameters
    ----------
    severity : int or None
        The actual class, 0 to 3 or 9; None while it is not classified.
    is_regulated : bool
        Watching and the like are no regulated procedure: no re-use, yet part of its lifetime.
    """

    severity: int | None
    is_regulated: bool = True


@dataclass(frozen=True, slots=True)
class NextUse:
    """The use that is planned, and what is held for it.

    Parameters
    ----------
    severity : int
        The class expected, 0 to 3 or 9.
    is_consented : bool
        Whether the authority consents to the re-use.
    names_animal : bool
        Whether that consent names this very animal, not a class of animals.
    vet_advises : bool
        Whether a veterinary surgeon who knows its lifetime experience advises that it recovered.
    vet_examined : bool
        Whether one examined this very animal.
    is_continued : bool
        Whether this animal is needed because of its earlier steps, in the same procedure.
    is_regulated : bool
    """

    severity: int
    is_consented: bool = False
    names_animal: bool = False
    vet_advises: bool = False
    vet_examined: bool = False
    is_continued: bool = False
    is_regulated: bool = True


class Sort(StrEnum):
    """What the next use would be."""

    FIRST = "first use"
    CONTINUED = "continued use"
    REUSE = "re-use"


@dataclass(frozen=True, slots=True)
class Reuse:
    """What the next use would be, and every reason against it; none allows it."""

    sort: Sort
    against: tuple[str, ...] = ()

    @property
    def is_allowed(self) -> bool:
        """Whether nothing speaks against it; a named person still decides."""
        return not self.against


def reuse(earlier: Sequence[EarlierUse], then: NextUse, rules: Rules) -> Reuse:
    """Hold the next use of an animal against its history.

    Parameters
    ----------
    earlier : sequence of EarlierUse
        All that it went through, in every project.
    then : NextUse
    rules : Rules

    Examples
    --------
    >>> from datetime import date
    >>> from registry.approvals.rules.law import rules_on
    >>> uk = rules_on("uk", date(2026, 5, 1))
    >>> reuse([EarlierUse(2)], NextUse(2, is_consented=True, vet_advises=True), uk).is_allowed
    True
    """
    history = [one for one in earlier if one.is_regulated]
    if not history or not then.is_regulated:
        return Reuse(Sort.FIRST)
    if then.is_continued:
        return Reuse(Sort.CONTINUED)
    severe = sum(one.severity == SEVERE for one in history)
    reasons = (
        (not then.is_consented, "The authority has not consented to it."),
        (
            any(one.severity is None for one in history),
            "An earlier use has no actual severity yet: classify it first.",
        ),
        (severe > 1, "It went through more than one severe use."),
        (
            severe == 1 and not (then.names_animal and then.vet_examined),
            "After a severe use, consent must name this animal, once it was examined.",
        ),
        (
            not then.vet_advises,
            "No vet who knows its lifetime experience has advised that it recovered.",
        ),
        (then.severity not in rules.reuse_next, "Its next use would be of a class that is barred."),
    )
    return Reuse(Sort.REUSE, tuple(said for holds, said in reasons if holds))
