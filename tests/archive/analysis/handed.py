"""Small tables with what is asked of them: one case for each way a number can be made again."""

from collections.abc import Sequence
from typing import Any

from registry.design import Stream, latin, minimised, phased
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
    "comparison, crossed over": {
        "method": "crossover in Williams orders",
        "commitment": "",
        "places": [
            [p, "few", "", ["few", "plenty"][:: 1 - 2 * (n % 2)]] for n, p in enumerate("abcd")
        ],
    },
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
    "comparison, crossed over": named("orders_as_randomised", TWICE),
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
FOCAL: list[Field] = [
    ("crab", "string"), ("watch", "string"), ("did", "string"), ("from_s", "number"),
    ("to_s", "number"),
]  # fmt: skip
WATCHES = [
    (crab, watch, did, begin + shift, "" if did == "snap" else end + shift)
    for shift, (crab, watch) in enumerate(
        [("P", "1"), ("P", "2"), ("Q", "1"), ("Q", "2"), ("R", "1"), ("R", "2"), ("S", "1")]
    )
    for did, begin, end in (
        ("hide", 0, 20 + 2 * shift),
        ("oos", 20 + 2 * shift, 30 + 2 * shift),
        ("walk", 30 + 2 * shift, 60),
        ("snap", 44 + shift, 0),
        ("hide", 60, 85 if shift != 6 else 5),
    )
]
"""Seven sessions; the last has a bout that ends before it begins, and falls out whole."""
BY_WATCH = {
    "animal": "crab", "session": "watch", "behaviour": "did", "begin": "from_s", "end": "to_s",
}  # fmt: skip
CLOCK: list[Field] = [
    ("crab", "string"), ("did", "string"), ("at", "datetime"), ("to", "datetime"),
    ("shut", "datetime"),
]  # fmt: skip
BY_CLOCK = [
    (crab, did, f"2026-01-01T09:{n:02}:{10 * k:02}", f"2026-01-01T09:{n + 1:02}:{7 * k:02}",
     "2026-01-01T10:00:00")
    for k, crab in enumerate("PQ")
    for n, did in enumerate(["hide", "walk", "hide", "dig"])
]  # fmt: skip
KNOWN = [["hide", "state", "place"], ["walk", "state", "place"], ["snap", "event", ""],
         ["dig", "state", ""]]  # fmt: skip
BUDGET_FIELDS = CASES["budget"][0]
BY_SCAN = {"animal": "ray", "behaviour": "did", "session": "session", "begin": "at"}
FACTS: dict[str, dict[str, Any]] = {
    "bouts": {"acts": KNOWN, "recorded": ["focal", "continuous"]},
    "bouts, of one behaviour": {"recorded": ["behaviour", "continuous"]},
    "sequence, of scans": {"recorded": ["scan", "instantaneous"]},
}
"""What else the register tells, by case."""
CASES |= {
    "bouts": (FOCAL, WATCHES, BY_WATCH, {"minutes": 2}),
    "bouts, of one behaviour": (FOCAL, WATCHES, BY_WATCH, {}),
    "bouts, by the clock": (
        CLOCK, BY_CLOCK,
        {"animal": "crab", "behaviour": "did", "begin": "at", "end": "to", "closed": "shut"}, {},
    ),
    "interval": (FOCAL, WATCHES, BY_WATCH, {"every": [5.0, 20.0, 300.0]}),
    "sequence": (
        BUDGET_FIELDS,
        [(f"2026-01-01T09:{n:02}:00", ray, "s", "abcd"[(7 * n * n + 3 * n + k) % 13 % 4])
         for k, ray in enumerate("XY") for n in range(60)],
        BY_SCAN, {"repeats": False},
    ),
    "sequence, of scans": (BUDGET_FIELDS, SCANS, BY_SCAN, {}),
    "one_zero": (
        [("at", "integer"), ("ray", "string"), ("session", "string"), ("did", "string")],
        [(n % 5, ray, session, did) for n, (_, ray, session, did) in enumerate(SCANS)],
        {"animal": "ray", "behaviour": "did", "session": "session", "interval": "at"}, {},
    ),
}  # fmt: skip
NOISY: list[Field] = [
    ("crab", "string"), ("visit", "string"), ("where", "string"), ("db", "number"),
    ("did", "string"),
]  # fmt: skip
HEARD = [
    (crab, visit, where, 50.0 + 7 * v + 3 * (n % 2) + 60 * (where == "water"),
     ["walk", "hide", "oos"][(n * (v + 1) + c) % 3])
    for c, crab in enumerate("PQR")
    for v, visit in enumerate(["1", "2", "3", "4"])
    for where in ("air", "water")
    for n in range(5)
]  # fmt: skip
PHASED: list[Field] = [
    ("penguin", "string"), ("day", "date"), ("film", "string"), ("dives", "number"),
]  # fmt: skip
FILM = "ooooonnnnnnoooooonnnnnnn"
BY_PHASE = {"animal": "penguin", "order": "day", "phase": "film", "outcome": "dives"}
IN_PHASES = [
    (bird, f"2026-01-{day + 1:02}", FILM[(day + turn) % 24] if turn == 0 else FILM[day],
     SPREAD[(day * 5 + turn) % 12] + 2 * (FILM[day] == "n"))
    for turn, bird in enumerate("AB")
    for day in range(24)
]  # fmt: skip
SWAPPED = [
    (bird, day, ("on", "off")[(n + k) % 2], SPREAD[3 * n + k] + 2 * ((n + k) % 2))
    for n, bird in enumerate("ABCD")
    for k, day in enumerate(["2026-01-01", "2026-01-02"])
]
DRAWS["reversal, by drawn orders"] = {
    "method": "crossover", "commitment": "",
    "places": [[bird, ("on", "off")[n % 2], "", [("on", "off")[(n + k) % 2] for k in (0, 1)]]
               for n, bird in enumerate("ABCD")],
}  # fmt: skip
GIVEN = {"shortest": 4, "phases": "ABAB", "sessions": 24}
DRAWS["reversal, by drawn changes"] = told_of(
    phased(["A", "B"], ["o", "n"], Stream(bytes(32)), sessions=24, shortest=4), GIVEN
)
DRAWS["feeding"] = DRAWN
CASES |= {
    "along": (
        NOISY, HEARD,
        {"animal": "crab", "session": "visit", "medium": "where", "covariate": "db",
         "behaviour": "did"},
        {"target": "hide"},
    ),
    "along, each by itself": (
        NOISY, [(c, c + v, w, db + n % 3, did) for n, (c, v, w, db, did) in enumerate(HEARD)],
        {"animal": "crab", "session": "visit", "covariate": "db", "behaviour": "did"},
        {"target": "hide"},
    ),
    "reversal": (PHASED, IN_PHASES, BY_PHASE, {"shortest": 5, "reference": "o"}),
    "reversal, too many to go through": (
        PHASED, IN_PHASES, BY_PHASE, {"shortest": 1, "reference": "o"},
    ),
    "reversal, by drawn changes": (PHASED, IN_PHASES, BY_PHASE, {"reference": "o"}),
    "reversal, by drawn orders": (PHASED, SWAPPED, BY_PHASE, {}),
    "condition": (
        [("tank", "string"), ("flow", "string"), ("g", "number"), ("cm", "number")],
        [(t, f, 0.01 * (10 + n + k) ** 3.1 + k, 10 + n + k) for k in (0, 1)
         for n, (t, f) in enumerate(zip(TANKS, FLOWS, strict=True))],
        {"mass": "g", "length": "cm", "unit": "tank", "treatment": "flow"}, {},
    ),
    "feeding": (
        [("tank", "string"), ("flow", "string"), ("fed", "number"), ("won", "number")],
        [(t, f, 20 + n, 12 + k + n % 3) for k in (0, 1)
         for n, (t, f) in enumerate(zip(TANKS, FLOWS, strict=True))],
        {"feed": "fed", "gain": "won", "unit": "tank", "treatment": "flow"}, {},
    ),
    "warmth": (
        [("tank", "string"), ("at", "datetime"), ("warm", "number")],
        [(tank, f"2026-01-{day:02}T{hour:02}:00:00", 9 + day % 3 + hour / 4 + (tank == "b"))
         for tank in "ab" for day in (1, 2, 4) for hour in (3, 9, 15)],
        {"lowest": "warm", "time": "at", "unit": "tank"}, {"base": 12.0},
    ),
    "rates": (
        [("egg", "string"), ("kind", "string"), ("warm", "number"), ("beats", "number")],
        [(f"e{n}", "xy"[n % 2], 10 + n % 5, SPREAD[n] + 2 * (n % 5)) for n in range(12)],
        {"rate": "beats", "temperature": "warm", "unit": "egg", "family": "kind"}, {},
    ),
    "rates, of the same units": (
        [("egg", "string"), ("warm", "number"), ("beats", "number")],
        [(f"e{n % 4}", 10 + n // 4 * 3, SPREAD[n] + n) for n in range(12)],
        {"rate": "beats", "temperature": "warm", "unit": "egg"}, {},
    ),
    "response": (
        [("dish", "string"), ("salt", "number"), ("shut", "integer"), ("all", "integer")],
        [("z", 0, 1, 20)] + [(f"d{n}", 2 ** (n // 2), x, 20)
                             for n, x in enumerate([1, 2, 4, 6, 9, 7, 13, 15, 18, 16])],
        {"dose": "salt", "responded": "shut", "of": "all", "unit": "dish"},
        {"scale": "logarithm"},
    ),
    "response, of warmth": (
        [("dish", "string"), ("warm", "number"), ("shut", "integer"), ("all", "integer")],
        [(f"d{n}", 10 + n // 2, x, 20) for n, x in enumerate([9, 3, 12, 6, 5, 14])],
        {"dose": "warm", "responded": "shut", "of": "all", "unit": "dish"}, {},
    ),
    "measured": (
        [("egg", "string"), ("who", "string"), ("mm", "number")],
        [(f"e{n}", who, SPREAD[n] + 0.3 * k + 0.1 * ((n * k) % 4))
         for n in range(8) for k, who in enumerate("xyz") if (n, who) != (7, "z")],
        {"moment": "egg", "observer": "who", "outcome": "mm"}, {},
    ),
}  # fmt: skip
MORE = {"brisk", "plenty"}
"""Arms in which later cohorts differ more."""
