"""Read what was typed into the search box: words, beginnings, phrases in quotes, identifiers."""

import re
from dataclasses import dataclass

from registry.search.folding import MOST_IN_A_WORD, MOST_WORDS, fold, stem_of

_QUOTED = re.compile(r'"([^"]+)"')
_QUOTES = str.maketrans(dict.fromkeys("“”„«»", '"'))
_ARK = re.compile(r"ark:\S+", re.IGNORECASE)
MOST_TYPED = 2000
_LONGEST_PLAIN_NUMBER = 3
"""Digits up to which a number is taken whole: 12 is not the beginning of 120."""
_HISSING = ("s", "x", "z", "ch", "sh")


@dataclass(frozen=True)
class Term:
    """One word looked for, in every form that counts as the word itself, or by its beginning."""

    forms: tuple[str, ...]
    beginnings: tuple[str, ...] = ()

    def holds(self, word: str) -> bool:
        """Say whether a folded word is one that was looked for."""
        return word in self.forms or (bool(self.beginnings) and word.startswith(self.beginnings))


@dataclass(frozen=True)
class Asked:
    """What was typed, read."""

    terms: tuple[Term, ...] = ()
    phrases: tuple[str, ...] = ()
    key: str = ""

    def __bool__(self) -> bool:
        """Say whether there is anything to look for."""
        return bool(self.terms)


def read(typed: str) -> Asked:
    """Read what was typed; the last word may be a beginning, unless it stands in quotes."""
    text = typed[:MOST_TYPED].translate(_QUOTES)
    phrases = [fold(said) for said in _QUOTED.findall(text)]
    loose = fold(_QUOTED.sub(" ", text)).split()
    terms = [Term((word[:MOST_IN_A_WORD],)) for said in phrases for word in said.split()]
    open_end = not text.rstrip().endswith('"')
    for place, word in enumerate(loose, 1):
        is_last = open_end and place == len(loose)
        terms.append(_term(word[:MOST_IN_A_WORD], is_last=is_last))
    kept = tuple(dict.fromkeys(terms))
    # The last one is kept though there are too many: it is the one being typed.
    return Asked(
        terms=kept[:MOST_WORDS],
        phrases=tuple(said for said in phrases if " " in said)[:MOST_WORDS],
        key=key_of(text),
    )


def key_of(text: str) -> str:
    """Give an identifier as it is kept: without spaces and signs; nothing where it has no digit.

    From a longer address only the identifier in it is taken.
    """
    ark = _ARK.search(text)
    squashed = fold(ark.group() if ark else text[: 2 * MOST_IN_A_WORD]).replace(" ", "")
    has_digit = any(sign.isdigit() for sign in squashed)
    return squashed if has_digit and len(squashed) <= MOST_IN_A_WORD else ""


def _term(word: str, *, is_last: bool) -> Term:
    if word.isdigit():
        is_open = is_last and len(word) > _LONGEST_PLAIN_NUMBER
        return Term((word,), (word,) if is_open else ())
    beginnings = (stem_of(word),) if is_last and len(word) > 1 else ()
    return Term(forms_of(word), beginnings)


def forms_of(word: str) -> tuple[str, ...]:
    """Give a word with its plural and its singular, as far as their endings tell."""
    if len(word) < 3:
        return (word,)
    found = [word]
    if word.endswith("ies"):
        found.append(f"{word[:-3]}y")
    if word.endswith("es") and word[:-2].endswith(_HISSING):
        found.append(word[:-2])
    if word.endswith("ae"):
        found.append(word[:-1])
    if word.endswith("s") and not word.endswith("ss"):
        found.append(word[:-1])
    else:
        found.append(f"{word}s")
    if word.endswith(_HISSING):
        found.append(f"{word}es")
    if word.endswith("y") and word[-2] not in "aeiou":
        found.append(f"{word[:-1]}ies")
    if word.endswith("a"):
        found.append(f"{word}e")
    return tuple(dict.fromkeys(found))
