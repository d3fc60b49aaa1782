"""Mark the words that were looked for, in a title and in an excerpt of the text."""

import re
import unicodedata
from functools import lru_cache

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from registry.search.asking import Asked
from registry.search.folding import fold

_WORD = re.compile(r"[^\W_]+")
WORDS_SHOWN = 26
_WORDS_BEFORE = 8
_READ = 20_000


def marked(text: str, asked: Asked) -> SafeString:
    """Give a text with each word that was looked for in a <mark>; all else is escaped."""
    text = unicodedata.normalize("NFC", text)
    out, done = [], 0
    for found in _WORD.finditer(text):
        if _is_asked(found.group(), asked):
            out += [escape(text[done : found.start()]), f"<mark>{escape(found.group())}</mark>"]
            done = found.end()
    return mark_safe("".join([*out, escape(text[done:])]))


def excerpt(text: str, asked: Asked) -> SafeString:
    """Give the words around the first that was looked for, the sought ones marked."""
    # One line a fact in the index; beside each other they need a sign between them.
    plain = unicodedata.normalize("NFC", " · ".join(text[:_READ].split("\n")))
    words = plain.split()
    hits = [place for place, word in enumerate(words) if _holds(word, asked)]
    begin = max(0, hits[0] - _WORDS_BEFORE) if hits else 0
    begin = 0 if begin < 3 else begin
    shown = " ".join(words[begin : begin + WORDS_SHOWN])
    before = "… " if begin else ""
    after = " …" if begin + WORDS_SHOWN < len(words) or len(text) > _READ else ""
    return mark_safe(f"{before}{marked(shown, asked)}{after}")


def _holds(word: str, asked: Asked) -> bool:
    return any(_is_asked(part, asked) for part in _WORD.findall(word))


def _is_asked(word: str, asked: Asked) -> bool:
    folded = _folded(word)
    return any(term.holds(folded) for term in asked.terms)


@lru_cache(maxsize=20_000)
def _folded(word: str) -> str:
    return fold(word)
