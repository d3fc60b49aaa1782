"""Small tables with what is asked of them: one case for each way a number can be made again."""

from collections.abc import Sequence
from typing import Any

from registry.design import Stream, latin, minimised
from registry.design.allocation.base import Allocation

type Field = tuple[str, str]

FLOWS = ["brisk"] * 4 + ["still"] * 4
TANKS = list("abcdefgh")
DRAWN = {
    "method": "complete randomisation",
    "places": [[tank, flow, "", []] for tank, flow in zip(TANKS, FLOWS, strict=True)],
    "commitment": "",
}
SCANS = [
    (f"2026-01-0{1 + n // 12}T{9 + n % 12 // 4:02}:00:00", "XYZ"[n % 3], session, did)
    for n, (session, did) in enumerate(
        zip(["s1", "s2"] * 18, ["rest", "swim", "oos", "rest", "walk"] * 7 + ["swim"], strict=True)
    )
]
CASES: dict[str, tuple[list[Field], list[tuple[Any, ...]], dict[str, str], dict[str, Any]]] = {
    "comparison": (
        [("tank", "string"), ("flow", "string"), ("mass", "number")],
        [(t, f, m) for t, f, m in zip(TANKS, FLOWS, [5.1, 6, 7, 8, 3, 4, 4.5, 5], strict=True)]
        + [("a", "brisk", 5.3), ("h", "still", "NA")],
        {"outcome": "mass", "unit": "tank", "treatment": "flow"},
        {"reference": "still", "test": "welch_t"},
    ),
    "growth": (
        [("tank", "string"), ("flow", "string"), ("day", "date"), ("mass", "number")],
        [
            (t, f, day, 10 + n + (12 + 2 * n) * (day > "2026-01-15"))
            for day in ("2026-01-01", "2026-02-05")
            for n, (t, f) in enumerate(zip(TANKS, FLOWS, strict=True))
        ],
        {"mass": "mass", "time": "day", "unit": "tank", "treatment": "flow"},
        {},
    ),
    "hatching": (
        [("tank", "string"), ("flow", "string"), ("fertile", "integer"), ("hatched", "integer")],
        [
            (t, f, 25, h)
            for t, f, h in zip(TANKS, FLOWS, [20, 18, 22, 19, 12, 15, 10, 14], strict=True)
        ],
        {"fertile": "fertile", "hatched": "hatched", "unit": "tank", "treatment": "flow"},
        {"reference": "still"},
    ),
    "survival": (
        [("tank", "string"), ("flow", "string"), ("days", "number"), ("hatched", "boolean")],
        [
            (t, f, d + extra, "true" if d != 60 else "false")
            for extra in (0, 2)
            for t, f, d in zip(TANKS, FLOWS, [50, 52, 51, 55, 58, 57, 60, 60], strict=True)
        ],
        {"time": "days", "happened": "hatched", "unit": "tank", "treatment": "flow"},
        {},
    ),
    "budget": (
        [("at", "datetime"), ("ray", "string"), ("session", "string"), ("did", "string")],
        SCANS,
        {"animal": "ray", "behaviour": "did", "session": "session", "time": "at"},
        {},
    ),
    "space": (
        [("ray", "string"), ("zone", "string")],
        [("X", "a")] * 6 + [("X", "b")] * 3 + [("Y", "b")] * 4 + [("Y", "c")],
        {"animal": "ray", "zone": "zone"},
        {"areas": {"a": 2.0, "b": 1.0, "c": 1.0}},
    ),
    "agreement": (
        [("at", "integer"), ("who", "string"), ("did", "string")],
        [(n, who, code) for who, codes in (("A", "aabbab"), ("B", "abbbab"))
         for n, code in enumerate(codes)],
        {"moment": "at", "observer": "who", "behaviour": "did"},
        {},
    ),
    "cohorts": (
        [("tank", "string"), ("flow", "string"), ("mass", "number")],
        [(t, f, m) for t, f, m in zip(TANKS, FLOWS, [5, 6, 7, 8, 3, 4, 4, 5], strict=True)],
        {"outcome": "mass", "unit": "tank", "treatment": "flow"},
        {"reference": "still"},
    ),
}  # fmt: skip
STEPS = (
    [("at", "integer"), ("who", "string"), ("calm", "string"), ("day", "string")],
    [
        (n, who, code, "12"[n > 3])
        for who, codes in (("A", "aabbcabb"), ("B", "abbbcacb"), ("C", "aabcccab"))
        for n, code in enumerate(codes)
    ],
    {"moment": "at", "observer": "who", "behaviour": "calm", "session": "day"},
    {"ranked": ["a", "b", "c"]},
)
"""Three observers of codes that are steps, in two sessions."""
COUNTED = (
    [("shoal", "string"), ("sand", "integer"), ("bare", "integer")],
    [("A", 7, 5), ("B", 9, 3), ("A", 8, 4), ("C", 6, "NA")],
    {"animal": "shoal"},
    {"counts": ["sand", "bare"]},
)
"""Zones that stand beside each other, a column of counts each."""
PAIRED = (
    [("pair", "string"), ("supply", "string"), ("pebbles", "number")],
    [
        (p, s, n + 4 * (s == "plenty") + 0.1 * n * n * (s == "few"))
        for n, p in enumerate("abcd")
        for s in ("few", "plenty", "none")
    ],
    {"outcome": "pebbles", "unit": "pair", "treatment": "supply"},
    {"reference": "few", "arm": "plenty"},
)
"""Units that went through all arms, of which two are compared."""
ARMS3 = ["few", "none", "plenty"]
SPREAD = [7.1, 3.2, 5.5, 4.4, 8.8, 6.3, 2.9, 5.1, 7.7, 3.8, 6.6, 4.9]
"""Twelve values without ties."""
BY_ARM = {"outcome": "mass", "unit": "tank", "treatment": "flow"}
FIELDS: list[Field] = [("tank", "string"), ("flow", "string"), ("mass", "number")]


def of_arms(number: int, arms: Sequence[str]) -> list[tuple[Any, ...]]:
    """Give a row for each of so many tanks, dealt to arms in turn."""
    return [
        (f"T{n:02}", arms[n % len(arms)], SPREAD[n % 12] + 0.01 * n + 2 * (n % len(arms)))
        for n in range(number)
    ]


def drawn_as(rows: Sequence[tuple[Any, ...]], method: str, blocks: int = 1) -> dict[str, Any]:
    """Give the draw of a table's tanks, in blocks of neighbours."""
    size = len(rows) // blocks
    places = [[row[0], row[1], f"B{n // size}", []] for n, row in enumerate(rows)]
    return {"method": method, "places": places, "commitment": ""}


def told_of(found: Allocation, given: dict[str, Any]) -> dict[str, Any]:
    """Give an allocation as the register tells it."""
    places = [[one.unit, one.arm, one.block, list(one.sequence)] for one in found.places]
    return {"method": found.method, "places": places, "commitment": "", "given": given}


EIGHT, TWELVE, MANY = of_arms(8, FLOWS[3:5]), of_arms(12, ARMS3), of_arms(26, FLOWS[3:5])
LEVELS = {f"T{n:02}": {"size": "SML"[n % 3], "from": "EW"[n % 2]} for n in range(12)}
MINIMISED = told_of(minimised(LEVELS, ["brisk", "still"], Stream(bytes(32))), {"levels": LEVELS})
SQUARE = told_of(latin(["top", "mid", "low"], ["Mon", "Tue", "Wed"], ARMS3, Stream(bytes(32))), {})
NINE = [(one[0], one[1], SPREAD[n]) for n, one in enumerate(SQUARE["places"])]
WITHIN = [(p, s, SPREAD[n * 3 + k] + k) for n, p in enumerate("abcd") for k, s in enumerate(ARMS3)]
TWICE = [row for row in WITHIN if row[1] != "none"]
DRAWS: dict[str, dict[str, Any]] = {
    "comparison, drawn": drawn_as(EIGHT, "complete randomisation"),
    "comparison, in blocks": drawn_as(EIGHT, "randomised blocks", 2),
    "comparison, three drawn": drawn_as(TWELVE, "complete randomisation"),
    "comparison, too many to go through": drawn_as(MANY, "complete randomisation"),
    "comparison, in many blocks": drawn_as(of_arms(48, FLOWS[3:5]), "randomised blocks", 12),
    "comparison, minimised": MINIMISED,
    "comparison, square": SQUARE,
    "hatching": DRAWN,
    "growth": DRAWN,
}
"""What the register tells of the draw, by case."""


def named(test: str, rows: list[tuple[Any, ...]]) -> Any:
    """Give a case of a comparison, with the test that is asked for."""
    return FIELDS, rows, BY_ARM, {"test": test} if test else {}


CASES |= {
    "space, counted": COUNTED,
    "cohorts, paired": PAIRED,
    "agreement, of steps": STEPS,
    "comparison, drawn": named("rank_sum", EIGHT),
    "comparison, in blocks": named("as_randomised", EIGHT),
    "comparison, three drawn": named("kruskal_wallis", TWELVE),
    "comparison, too many to go through": named("as_randomised", MANY),
    "comparison, in many blocks": named("as_randomised", of_arms(48, FLOWS[3:5])),
    "comparison, minimised": named(
        "as_randomised", [(u, arm, SPREAD[n]) for n, (u, arm, *_) in enumerate(MINIMISED["places"])]
    ),
    "comparison, square": named("among_arms_as_randomised", NINE),
    "comparison, ranks of pairs": named("signed_ranks", TWICE),
    "comparison, ranks within": named("friedman", WITHIN),
    "comparison, a foretold order": named("page", WITHIN),
    "comparison, shares": (
        [("tank", "string"), ("flow", "string"), ("fed", "integer"), ("all", "integer")],
        [(t, f, x, 20) for t, f, x in zip(TANKS, FLOWS, [9, 4, 7, 6, 12, 15, 10, 20], strict=True)],
        {"outcome": "fed", "of": "all", "unit": "tank", "treatment": "flow"},
        {"test": "quasi_binomial"},
    ),
    "survival, each by itself": (
        [("egg", "integer"), ("flow", "string"), ("days", "number"), ("hatched", "string")],
        [(n, ARMS3[n % 3], SPREAD[n], "no" if n % 5 == 4 else "yes") for n in range(12)],
        {"time": "days", "happened": "hatched", "unit": "egg", "treatment": "flow"},
        {},
    ),
    "agreement, by session": (
        [("at", "integer"), ("who", "string"), ("did", "string"), ("day", "string")],
        [(n, who, code, f"s{n % 3}")
         for who, codes in (("A", "aabbabcab"), ("B", "abbbabcbb"), ("C", "aabb.bcab"))
         for n, code in enumerate(codes) if code != "."],
        {"moment": "at", "observer": "who", "behaviour": "did", "session": "day"},
        {},
    ),
    "hatching, of laid": (
        [("tank", "string"), ("flow", "string"), ("laid", "integer"), ("fertile", "integer"),
         ("hatched", "integer")],
        [(t, f, 30, 25, h)
         for t, f, h in zip(TANKS, FLOWS, [20, 18, 22, 19, 12, 15, 10, 14], strict=True)],
        {"laid": "laid", "fertile": "fertile", "hatched": "hatched", "unit": "tank",
         "treatment": "flow"},
        {"reference": "still"},
    ),
}  # fmt: skip
MORE = {"brisk", "plenty"}
"""Arms in which later cohorts differ more."""
