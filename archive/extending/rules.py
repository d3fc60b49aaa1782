"""Rules that carry an old table over to a new dictionary, and the review that lets them be used.

A rule is a record: it is kept with the data that it made, and can be read without this program.
"""

import ast
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from archive.extending.changes import Change, Verdict
from archive.extending.units import conversion
from registry.errors import Unsound

WHAT = "The rule cannot be used."


@dataclass(frozen=True, slots=True)
class Rename:
    """The column `old` is called `new`; its values stay as they are.

    With one name twice it says that two dictionaries mean the same by it.
    """

    old: str
    new: str

    @property
    def said(self) -> str:
        """The rule in words."""
        if self.old == self.new:
            return f"“{self.old}” is the same column in both."
        return f"“{self.old}” is called “{self.new}”."


@dataclass(frozen=True, slots=True)
class Convert:
    """Values of a column in the unit `old` are written in the unit `new` (UCUM codes)."""

    field: str
    old: str
    new: str

    def __post_init__(self) -> None:
        conversion(self.old, self.new)

    @property
    def said(self) -> str:
        """The rule in words."""
        how = conversion(self.old, self.new)
        plus = f", plus {how.offset}" if how.offset else ""
        return f"“{self.field}” in {self.new} is its value in {self.old} times {how.factor}{plus}."


@dataclass(frozen=True, slots=True)
class Recode:
    """Each value of a coded column has its new code; a value without one is refused."""

    field: str
    codes: tuple[tuple[str, str], ...]

    def __post_init__(self) -> None:
        old = [code for code, _ in self.codes]
        twice = sorted({code for code in old if old.count(code) > 1})
        if twice or not old:
            why = f"“{twice[0]}” has two new codes" if twice else "it has no codes"
            raise _unsound(self.field, why, "Give each old code one new code.")

    @property
    def is_lossy(self) -> bool:
        """Whether several old codes become one, so that nobody can tell them apart again."""
        return len({code for _, code in self.codes}) < len(self.codes)

    @property
    def said(self) -> str:
        """The rule in words."""
        codes = ", ".join(f"{old} becomes {new}" for old, new in self.codes)
        lost = "; codes that become one cannot be told apart again" if self.is_lossy else ""
        return f"In “{self.field}”, {codes}{lost}."


@dataclass(frozen=True, slots=True)
class Split:
    """A column is parted at a separator into several; each value must have all the parts."""

    field: str
    into: tuple[str, ...]
    at: str

    def __post_init__(self) -> None:
        if len(set(self.into)) < 2 or len(set(self.into)) < len(self.into) or not self.at:
            why = "it needs a separator, and two or more columns of different names"
            raise _unsound(self.field, why, "Say where to part it, and what each part is called.")

    @property
    def said(self) -> str:
        """The rule in words."""
        parts = ", ".join(f"“{name}”" for name in self.into)
        return f"“{self.field}” is parted at “{self.at}” into {parts}."


@dataclass(frozen=True, slots=True)
class Derive:
    """A column is worked out from others of the same row: numbers, + - * / and brackets."""

    into: str
    expression: str

    def __post_init__(self) -> None:
        columns_of(self.expression)

    @property
    def said(self) -> str:
        """The rule in words."""
        return f"“{self.into}” is {self.expression}."


type Rule = Rename | Convert | Recode | Split | Derive

KINDS: dict[str, type[Rename | Convert | Recode | Split | Derive]] = {
    "rename": Rename,
    "unit": Convert,
    "recode": Recode,
    "split": Split,
    "derive": Derive,
}


@dataclass(frozen=True, slots=True)
class Mapped:
    """The rules from one version of a dictionary to another, for one table, and who saw to them.

    Parameters
    ----------
    table : str
    old, new : str
        The release numbers of the two versions.
    rules : tuple of Rule
        They are applied in this order; each sees the columns as the ones before left them.
    reason, made_by, reviewed_by : str
        Why they hold, and the codes of two persons.

    Raises
    ------
    Unsound
        When nobody reviewed them, or the one who made them.
    """

    table: str
    old: str
    new: str
    rules: tuple[Rule, ...]
    reason: str
    made_by: str
    reviewed_by: str

    def __post_init__(self) -> None:
        if not self.reason.strip():
            raise Unsound(WHAT, "It does not say why it holds.", "Give the reason in a sentence.")
        if not self.reviewed_by or self.reviewed_by == self.made_by:
            raise Unsound(
                WHAT,
                "Nobody has reviewed it but the one who made it.",
                "Have it read by a second person who knows how the data were taken.",
            )

    def as_dict(self) -> dict[str, Any]:
        """Give the record as JSON takes it."""
        whole = {name: getattr(self, name) for name in self.__slots__}
        return whole | {"rules": [rule_as_dict(rule) for rule in self.rules]}

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> "Mapped":
        """Read a record; what `as_dict` gives is read back as it was."""
        return cls(**{**record, "rules": tuple(map(rule_from_dict, record["rules"]))})


def rule_as_dict(rule: Rule) -> dict[str, Any]:
    """Give a rule as JSON takes it: its kind, and what it says."""
    return {"kind": kind_of(rule)} | asdict(rule)


def rule_from_dict(record: Mapping[str, Any]) -> Rule:
    """Read a rule.

    Raises
    ------
    Unsound
        When it is of no known kind, or does not say what its kind needs.
    """
    said = {name: _as_tuple(value) for name, value in record.items() if name != "kind"}
    made = KINDS.get(str(record.get("kind")))
    if made is None:
        raise Unsound(WHAT, f"There is no rule “{record.get('kind')}”.", f"Use {', '.join(KINDS)}.")
    try:
        return made(**said)
    except TypeError:
        needs = ", ".join(made.__slots__)
        raise Unsound(WHAT, f"It must say {needs}, and nothing else.", "Write it anew.") from None


def _as_tuple(value: Any) -> Any:
    return tuple(map(_as_tuple, value)) if isinstance(value, list | tuple) else value


def unmet(changes: Iterable[Change], rules: Iterable[Rule], called: Mapping[str, str]) -> list[str]:
    """Give in words which changes need a mapping and have no rule yet.

    Parameters
    ----------
    changes : iterable of Change
        Those of one table.
    rules : iterable of Rule
        The ones there are; a rule meets what differs in a field that it reads or makes.
    called : mapping of str to str
        The new name of each field that was renamed, by its old one.
    """
    met = {(kind_of(rule), called.get(name, name)) for rule in rules for name in touched(rule)}
    return [
        f"{one.field}: {one.what}"
        for one in changes
        if one.verdict is Verdict.MAPPING
        and not any((kind, one.field) in met for kind in {one.mapping, "derive", "split"})
    ]


def kind_of(rule: Rule) -> str:
    """Give the name of a rule's kind.

    >>> kind_of(Rename("weight", "mass"))
    'rename'
    """
    (kind,) = (name for name, made in KINDS.items() if isinstance(rule, made))
    return kind


def touched(rule: Rule) -> Sequence[str]:
    """Name the columns that a rule changes or makes."""
    match rule:
        case Split():
            return rule.into
        case Derive():
            return (rule.into,)
        case Rename():
            return (rule.old, rule.new)
        case _:
            return (rule.field,)


def leaves(rule: Rule) -> Sequence[str]:
    """Name the columns that a rule leaves for the newer dictionary to know.

    >>> leaves(Rename("weight", "mass"))
    ('mass',)
    """
    return (rule.new,) if isinstance(rule, Rename) else touched(rule)


def columns_of(expression: str) -> list[str]:
    """Name the columns that an expression reads.

    Raises
    ------
    Unsound
        When it holds anything but columns, numbers, + - * / and brackets.

    Examples
    --------
    >>> columns_of("(wet_g - dry_g) / wet_g")
    ['wet_g', 'dry_g']
    """
    return list(dict.fromkeys(_names(tree_of(expression), expression)))


def tree_of(expression: str) -> ast.expr:
    """Read an expression; `columns_of` says whether it is sound."""
    try:
        return ast.parse(expression.strip(), mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        raise _unsound(expression, "it is no sum", "Write, say, (wet_g - dry_g) / wet_g.") from None


def _names(node: ast.expr, whole: str) -> list[str]:
    match node:
        case ast.Name():
            return [node.id]
        case ast.Constant(value=int() | float()) if not isinstance(node.value, bool):
            return []
        case ast.BinOp(op=ast.Add() | ast.Sub() | ast.Mult() | ast.Div()):
            return _names(node.left, whole) + _names(node.right, whole)
        case ast.UnaryOp(op=ast.USub()):
            return _names(node.operand, whole)
    why = f"“{ast.unparse(node)}” is no column, no number, and no sum of them"
    raise _unsound(whole, why, "Use columns, numbers, + - * / and brackets alone.")


def _unsound(what: str, why: str, then: str) -> Unsound:
    return Unsound(WHAT, f"“{what}”: {why}.", then)
