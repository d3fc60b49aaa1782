"""Rules written as a person writes them, one a line, and read again.

Notes
-----
A name with a space, a comma, a colon, an equals sign or a quotation mark stands in quotation marks.
"""

import re
from collections.abc import Iterable

from archive.extending.rules import Convert, Derive, Recode, Rename, Rule, Split
from registry.errors import Unsound

FORMS = (
    "rename weight to mass",
    "convert depth from m to cm",
    "recode posture: REST to R, SWIM to S",
    'split stage_sex at "-" into stage, sex',
    "derive rate = beats / minutes",
)
"""An example of each."""
MOST = 200
"""Rules of one mapping. The house's own choice, no source."""

_WORD = re.compile(r'\s*("(?:[^"\\]|\\.)*"|[,:]|[^\s,:"]+)')
_DERIVED = re.compile(r'derive\s+("(?:[^"\\]|\\.)*"|[^\s,:="]+)\s*=(.*)')
_BARE = re.compile(r'[^\s,:="\\]+')
_JOINTS = frozenset({",", ":"})


def written(rules: Iterable[Rule]) -> str:
    """Write rules, one a line.

    >>> print(written([Rename("wet weight", "mass_g"), Derive("rate", "beats / minutes")]))
    rename "wet weight" to mass_g
    derive rate = beats / minutes
    """
    return "\n".join(map(_line, rules))


def _line(rule: Rule) -> str:
    match rule:
        case Rename():
            return f"rename {_name(rule.old)} to {_name(rule.new)}"
        case Convert():
            return f"convert {_name(rule.field)} from {_name(rule.old)} to {_name(rule.new)}"
        case Recode():
            codes = ", ".join(f"{_name(old)} to {_name(new)}" for old, new in rule.codes)
            return f"recode {_name(rule.field)}: {codes}"
        case Split():
            parts = ", ".join(map(_name, rule.into))
            return f"split {_name(rule.field)} at {_quoted(rule.at)} into {parts}"
        case Derive():
            return f"derive {_name(rule.into)} = {rule.expression}"


def _name(name: str) -> str:
    return name if _BARE.fullmatch(name) else _quoted(name)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", r"\\").replace('"', r"\"") + '"'


def read(text: str) -> tuple[Rule, ...]:
    """Read rules, one a line; empty lines are passed over.

    Raises
    ------
    Unsound
        With the line's number and what it must look like.
    """
    lines = [(at, line.strip()) for at, line in enumerate(text.splitlines(), start=1)]
    kept = [(at, line) for at, line in lines if line]
    if len(kept) > MOST:
        raise _unread(kept[MOST][0], f"there are more than {MOST} rules")
    return tuple(_rule(at, line) for at, line in kept)


def _rule(at: int, line: str) -> Rule:
    try:
        if derived := _DERIVED.fullmatch(line):
            return Derive(_plain(derived[1]), derived[2].strip())
        return _of_words(_words(line))
    except ValueError:
        raise _unread(at, f"“{line}” is no rule") from None
    except Unsound as refused:
        raise _unread(at, refused.why) from None


def _words(line: str) -> list[str]:
    found, end = [], 0
    while line[end:].strip():
        word = _WORD.match(line, end)
        if word is None:
            raise ValueError(line)
        found.append(word[1])
        end = word.end()
    return found


def _plain(word: str) -> str:
    if word in _JOINTS:
        raise ValueError(word)
    return re.sub(r"\\(.)", r"\1", word[1:-1]) if word.startswith('"') else word


def _of_words(words: list[str]) -> Rule:
    match words:
        case ["rename", old, "to", new]:
            return Rename(_plain(old), _plain(new))
        case ["convert", field, "from", old, "to", new]:
            return Convert(_plain(field), _plain(old), _plain(new))
        case ["recode", field, ":", *codes]:
            return Recode(_plain(field), tuple(map(_code, _parted(codes))))
        case ["split", field, "at", sign, "into", *parts]:
            names = [name for (name,) in _parted(parts)]
            return Split(_plain(field), tuple(map(_plain, names)), _plain(sign))
    raise ValueError(words)


def _parted(words: list[str]) -> list[list[str]]:
    """Part words at the commas between them."""
    parts: list[list[str]] = [[]]
    for word in words:
        if word == ",":
            parts.append([])
        else:
            parts[-1].append(word)
    return parts


def _code(words: list[str]) -> tuple[str, str]:
    old, to, new = words
    if to != "to":
        raise ValueError(words)
    return _plain(old), _plain(new)


def _unread(at: int, why: str) -> Unsound:
    return Unsound(
        "The rules were not read.",
        f"Line {at}: {why.rstrip('.')}.",
        f"Write each rule in a line of its own, such as: {'; '.join(FORMS)}.",
        fields={"rules": f"Line {at}: {why.rstrip('.')}."},
    )
