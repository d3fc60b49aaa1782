"""Fold text, so that Hakansson finds Håkansson: small letters, no accents, no signs."""

import re
import unicodedata

# Letters that Unicode does not take apart into a plain one and a mark.
_PLAIN = str.maketrans(
    {
        "æ": "ae",
        "œ": "oe",
        "ø": "o",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "ł": "l",
        "\u0131": "i",
        "ħ": "h",
    }
)
_NOT_WORDS = re.compile(r"[\W_]+")
MOST_LETTERS = 100_000
"""Letters of one text that are kept; PostgreSQL takes no vector over a megabyte."""
MOST_IN_A_WORD = 60
MOST_WORDS = 12


def fold(text: str) -> str:
    """Give the text in small letters without accents or signs, its words apart by one space."""
    apart = unicodedata.normalize("NFKD", text[:MOST_LETTERS].casefold())
    bare = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return _NOT_WORDS.sub(" ", bare.translate(_PLAIN)).strip()[:MOST_LETTERS]


def stems(text: str) -> list[str]:
    """Give the beginnings of words to look for, each once: a plural finds its singular too."""
    found = [stem_of(word[:MOST_IN_A_WORD]) for word in fold(text[:2000]).split()]
    return list(dict.fromkeys(found))[:MOST_WORDS]


def stem_of(word: str) -> str:
    """Give what a word and its plural both begin with."""
    if len(word) > 4 and word.endswith("ies"):
        return word[:-2]
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
