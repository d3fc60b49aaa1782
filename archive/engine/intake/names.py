"""Names of columns: how like a heading is to a field of the dictionary, and in words why."""

import difflib
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from archive.engine.roles import UNIT, FieldRole, fields_of, role_of

ETHOGRAM = "x:ethogram"
ALIASES: dict[FieldRole, frozenset[str]] = {
    FieldRole.ANIMAL: frozenset({"animal", "animal id", "id", "individual", "subject", "code"}),
    FieldRole.GROUP: frozenset({"group", "group id", "shoal", "school", "batch"}),
    FieldRole.SESSION: frozenset({"session", "session id", "session no", "watch"}),
    FieldRole.TIME: frozenset({"date", "day", "time", "when", "date time", "datetime", "seen"}),
    FieldRole.PLACE: frozenset({"place", "tank", "pool", "enclosure", "exhibit", "site", "where"}),
    FieldRole.OBSERVER: frozenset(
        {"observer", "obs", "initial", "recorder", "by", "who", "seen by"}
    ),
    FieldRole.BEHAVIOUR: frozenset({"behaviour", "behavior", "activity", "posture", "state"}),
    FieldRole.UNIT: frozenset({"unit", "replicate", "block"}),
    FieldRole.TREATMENT: frozenset({"treatment", "condition", "arm", "phase"}),
}
"""Words that students write for each role, stemmed. From memory, no source."""
_SHORT = {
    "temp": "temperature",
    "no": "number",
    "nr": "number",
    "num": "number",
    "qty": "number",
    "obs": "observer",
    "behavior": "behaviour",
    "color": "colour",
    "comment": "note",
    "remark": "note",
    "wt": "weight",
    "len": "length",
    "dur": "duration",
}
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")
_BRACKET = re.compile(r"[(\[{][^)\]}]*[)\]}]")


def fold(label: str) -> str:
    """Write a name without capitals, accents and signs.

    >>> fold("Seen_On (date)"), fold("Têmp°C"), fold("scanNumber")
    ('seen on date', 'temp c', 'scan number')
    """
    parted = _CAMEL.sub(" ", label)
    plain = unicodedata.normalize("NFKD", parted.replace("°", " "))
    kept = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return " ".join(re.findall(r"[^\W_]+", kept.casefold()))


def stem(word: str) -> str:
    """Take the common endings off a word, and write the usual short forms out.

    >>> stem("observations"), stem("resting"), stem("temp")
    ('observation', 'rest', 'temperature')
    """
    word = _SHORT.get(word, word)
    for ending, instead in (("ies", "y"), ("sses", "ss"), ("ings", ""), ("ing", "")):
        if word.endswith(ending) and len(word) > len(ending) + 2:
            return word[: -len(ending)] + instead
    if word.endswith("s") and not word.endswith(("ss", "us", "is")) and len(word) > 3:
        word = word[:-1]
    return _SHORT.get(word, word)


@cache
def stems(label: str) -> tuple[str, ...]:
    """Give the stems of a name, in order."""
    return tuple(stem(word) for word in fold(label).split())


@dataclass(frozen=True)
class Namesake:
    """One field of the dictionary, ready to be compared with headings."""

    name: str
    title: str
    type: str
    format: str
    unit: str
    role: FieldRole | None
    codes: frozenset[str]
    words: tuple[str, ...]
    digits: int
    is_required: bool
    is_comma_decimal: bool

    def likeness(self, label: str) -> tuple[float, str]:
        """Say how like a heading is, 0 to 1, and why."""
        return _likeness(self.name, self.title, self.unit, self.role, label)


@cache
def _likeness(
    name: str, title: str, unit: str, role: FieldRole | None, label: str
) -> tuple[float, str]:
    if label == name:
        return 1.0, "the same name"
    folded, bare = fold(label), fold(_BRACKET.sub(" ", label))
    if not folded:
        return 0.0, ""
    if fold(name) in {folded, bare}:
        return 0.97, f"the same name but for capitals, signs or a unit: {name}"
    if title and fold(title) in {folded, bare}:
        return 0.95, f"the field’s title: {title}"
    units = set(fold(unit).split())
    for theirs in (label, _BRACKET.sub(" ", label)):
        given = [one for one in stems(theirs) if one not in units]
        for ours in (name, title):
            if given and given == [one for one in stems(ours) if one not in units]:
                return 0.9, f"the same words but for their endings or the unit: {ours}"
    return _loose(name, title, role, label)


def _loose(name: str, title: str, role: FieldRole | None, label: str) -> tuple[float, str]:
    given = set(stems(label))
    best, why = 0.0, ""
    if role is not None and " ".join(stems(label)) in ALIASES.get(role, ()):
        best, why = 0.65, f"a usual word for the {role.value}"
    for ours in filter(None, (name, title)):
        own = set(stems(ours))
        if own and given and (own <= given or given <= own):
            share = len(own & given) / len(own | given)
            if 0.45 + 0.4 * share > best:
                best, why = 0.45 + 0.4 * share, f"some of the same words: {ours}"
        close = difflib.SequenceMatcher(None, fold(ours), fold(label)).ratio()
        if close >= 0.8 and 0.85 * close > best:
            best, why = 0.85 * close, f"nearly the same letters: {ours}"
    return best, why


def namesakes(table: Mapping[str, Any] | None) -> list[Namesake]:
    """Give the fields of a dictionary's table, ready to be compared."""
    schema = table.get("schema") if table else None
    return [_namesake(field, schema) for field in fields_of(schema or {})]


def _namesake(field: Mapping[str, Any], schema: Mapping[str, Any] | None) -> Namesake:
    limits = field.get("constraints")
    limits = limits if isinstance(limits, Mapping) else {}
    keys = (schema or {}).get("primaryKey") or ()
    codes = _codes(field, limits)
    return Namesake(
        name=str(field["name"]),
        title=str(field.get("title") or ""),
        type=str(field.get("type") or "string"),
        format=str(field.get("format") or "default"),
        unit=str(field.get(UNIT) or ""),
        role=role_of(field),
        codes=frozenset(codes),
        words=_true_and_false(field),
        digits=_digits(field, limits, codes),
        is_required=limits.get("required") is True
        or field["name"] in ([keys] if isinstance(keys, str) else keys),
        is_comma_decimal=field.get("decimalChar") == "," or field.get("groupChar") == ",",
    )


def _codes(field: Mapping[str, Any], limits: Mapping[str, Any]) -> list[str]:
    listed = field.get("categories") or limits.get("enum") or ()
    found = [one.get("value", "") if isinstance(one, Mapping) else one for one in listed]
    coded = field.get(ETHOGRAM) or ()
    found += [one.get("code", "") for one in coded if isinstance(one, Mapping)]
    return [str(code) for code in found if str(code)]


def _true_and_false(field: Mapping[str, Any]) -> tuple[str, ...]:
    true, false = field.get("trueValues"), field.get("falseValues")
    is_said = isinstance(true, list) and isinstance(false, list) and true and false
    return (str(true[0]), str(false[0])) if is_said and true and false else ()


def _digits(field: Mapping[str, Any], limits: Mapping[str, Any], codes: Sequence[str]) -> int:
    """Give how many digits a code always has; 0 where that is not said."""
    if field.get("type", "string") != "string":
        return 0
    if codes and all(code.isdigit() for code in codes):
        widths = {len(code) for code in codes}
        return widths.pop() if len(widths) == 1 else 0
    least, most = limits.get("minLength"), limits.get("maxLength")
    if isinstance(least, int) and least == most:
        return least
    pattern = re.fullmatch(r"\^?(?:\\d|\[0-9\])\{(\d{1,2})\}\$?", str(limits.get("pattern") or ""))
    return int(pattern[1]) if pattern else 0
