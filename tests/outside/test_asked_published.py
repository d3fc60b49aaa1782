"""Published values as they come through the kinds that people ask: a table in, a record out.

The sums themselves are held against the same sources in the files beside this one, where each is
named in full; “from memory” is a value recalled, confirmed by the sum agreeing alone.
"""

from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from archive.analysis.asked.found import Found
from tests.archive.analysis.asking import asked_of, cell, named

pytestmark = pytest.mark.outside

# Fisher (1935): Darwin's maize, crossed less selfed, eighths of an inch.
MAIZE = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]
PAIRS = {
    "outcome": [float(one) for one in MAIZE] + [0.0] * 15,
    "unit": [f"p{n}" for n in range(15)] * 2,
    "treatment": ["crossed"] * 15 + ["selfed"] * 15,
}
# Hollander and Wolfe (1973), p. 29, 69, 116 and 140, as the help of R prints them.
DEPRESSION = {
    "outcome": [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30,
                0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29],
    "unit": [f"p{n}" for n in range(9)] * 2,
    "treatment": ["first"] * 9 + ["second"] * 9,
}  # fmt: skip
MEMBRANE = {
    "outcome": [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46,
                1.15, 0.88, 0.90, 0.74, 1.21],
    "unit": [f"p{n}" for n in range(15)],
    "treatment": ["term"] * 10 + ["early"] * 5,
}  # fmt: skip
CLEARANCE = {
    "outcome": [2.9, 3.0, 2.5, 2.6, 3.2, 3.8, 2.7, 4.0, 2.4, 2.8, 3.4, 3.7, 2.2, 2.0],
    "unit": [f"p{n}" for n in range(14)],
    "treatment": ["a"] * 5 + ["b"] * 4 + ["c"] * 5,
}
ROUNDING = """5.40 5.50 5.55 5.85 5.70 5.75 5.20 5.60 5.50 5.55 5.50 5.40 5.90 5.85 5.70 5.45 5.55
5.60 5.40 5.40 5.35 5.45 5.50 5.35 5.25 5.15 5.00 5.85 5.80 5.70 5.25 5.20 5.10 5.65 5.55 5.45 5.60
5.35 5.45 5.05 5.00 4.95 5.50 5.50 5.40 5.45 5.55 5.50 5.55 5.55 5.35 5.45 5.50 5.55 5.50 5.45 5.25
5.65 5.60 5.40 5.70 5.65 5.55 6.30 6.30 6.25"""
BASES = {
    "outcome": [float(one) for one in ROUNDING.split()],
    "unit": [f"p{n // 3}" for n in range(66)],
    "treatment": ["round out", "narrow", "wide"] * 22,
}
# Page's test, van de Wiel and Di Bucchianico (2001), as the documentation of scipy has it.
RATED = ["343", "224", "335", "132", "232", "245", "124", "344", "245", "134"]
TUTORED = {
    "outcome": [float(one) for row in RATED for one in row],
    "unit": [f"p{n // 3}" for n in range(30)],
    "treatment": ["a", "b", "c"] * 10,
}


def compared(folder: Path, table: dict[str, list[Any]], **options: Any) -> Found:
    return asked_of(folder, "comparison", table, "outcome unit treatment", **options)


@pytest.mark.parametrize(
    ("table", "test", "letter", "statistic", "p"),
    [
        pytest.param(PAIRS, "paired_t", "t", 2.148, 0.0497, id="t of Darwin's maize"),
        # One-sided .01953 and .1272 of exact draws that have mirror images: twice as much.
        pytest.param(DEPRESSION, "signed_ranks", "V", 40, 2 * 0.01953, id="Wilcoxon's V"),
        pytest.param(MEMBRANE, "rank_sum", "W", 35, 2 * 0.1272, id="the sum of ranks"),
        pytest.param(CLEARANCE, "kruskal_wallis", "H", 0.77143, None, id="Kruskal and Wallis"),
        pytest.param(BASES, "friedman", "χ²", 11.143, None, id="Friedman"),
        pytest.param(TUTORED, "page", "L", 133.5, None, id="Page"),
    ],
)
def test_a_comparison_that_is_asked_gives_the_published_statistic(
    tmp_path: Path, table: dict[str, list[Any]], test: str, letter: str, statistic: float,
    p: float | None,
) -> None:  # fmt: skip
    order = {"reference": "second"} if table is DEPRESSION else {}
    order = {"reference": "early"} if table is MEMBRANE else order
    order = {"reference": "selfed"} if table is PAIRS else order
    found = named(compared(tmp_path, table, test=test, **order), test)
    assert abs(dict(found.figures)[letter]) == pytest.approx(statistic, abs=5e-4)
    if p is not None:
        assert found.p == pytest.approx(p, abs=2e-4)


def test_shares_of_eggs_have_the_published_intervals(tmp_path: Path) -> None:
    # Newcombe (1998), Statistics in Medicine 17, table I: 81/263 and 15/148, by Wilson's method.
    eggs = {
        "fertile": [130, 133, 74, 74], "hatched": [40, 41, 7, 8], "unit": list("abcd"),
        "treatment": ["x", "x", "y", "y"],
    }  # fmt: skip
    found = asked_of(tmp_path, "hatching", eggs, "fertile hatched unit treatment")
    for arm, low, high in (("x", 0.2553, 0.3662), ("y", 0.0624, 0.1605)):
        assert cell(found, "hatching", arm, "from") == pytest.approx(low, abs=5e-5)
        assert cell(found, "hatching", arm, "to") == pytest.approx(high, abs=5e-5)
    # The same table, exact: 1/29, 15/148 and 81/263, as shares at three doses.
    doses = {"dose": [1.0, 2, 4], "responded": [1, 15, 81], "of": [29, 148, 263],
             "unit": list("abc")}  # fmt: skip
    found = asked_of(tmp_path, "response", doses, "dose responded of unit")
    for dose, low, high in (("1", 0.0009, 0.1776), ("2", 0.0578, 0.1617), ("4", 0.2527, 0.3676)):
        assert cell(found, "doses", dose, "from") == pytest.approx(low, abs=5e-5)
        assert cell(found, "doses", dose, "to") == pytest.approx(high, abs=5e-5)


# Krippendorff (2011), sections C to F: four observers, twelve units, gaps.
TWELVE = ["1 2 3 3 2 1 4 1 2 . . .", "1 2 3 3 2 2 4 1 2 5 . 3", ". 3 3 3 2 3 4 2 2 5 1 .",
          "1 2 3 3 2 4 4 1 2 5 1 ."]  # fmt: skip
CODED = [
    (observer, moment, code)
    for observer, row in enumerate(TWELVE)
    for moment, code in enumerate(row.split())
    if code != "."
]
# Fleiss' kappa in Wikipedia, the worked example: ten subjects, fourteen raters, .210.
TEN = """0 0 0 0 14/0 2 6 4 2/0 0 3 5 6/0 3 9 2 0/2 2 8 1 1/7 7 0 0 0/3 2 6 3 0/2 5 3 2 2/6 5 2 1 0
0 2 2 3 7"""


def test_agreement_that_is_asked_gives_the_published_values(tmp_path: Path) -> None:
    ask = partial(asked_of, tmp_path)
    who, when, codes = (list(one) for one in zip(*CODED, strict=True))
    table = {"observer": [f"o{one}" for one in who], "moment": when, "behaviour": codes}
    found = ask("agreement", table, "observer moment behaviour")
    assert cell(found, "alpha", "all observers", "alpha") == pytest.approx(0.743, abs=6e-4)
    numbers = {"observer": table["observer"], "moment": when, "outcome": [float(c) for c in codes]}
    found = ask("measured", numbers, "observer moment outcome")
    assert cell(found, "alpha", "all observers", "alpha") == pytest.approx(0.849, abs=6e-4)
    rows = [row.split() for row in TEN.replace("\n", "/").split("/")]
    given = [
        (moment, rater, code)
        for moment, row in enumerate(rows)
        for rater, code in enumerate(
            "abcde"[at] for at, times in enumerate(row) for _ in range(int(times))
        )
    ]
    moments, raters, codes = (list(one) for one in zip(*given, strict=True))
    table = {"observer": [f"r{one}" for one in raters], "moment": moments, "behaviour": codes}
    found = ask("agreement", table, "observer moment behaviour")
    assert cell(found, "fleiss", "all observers", "kappa") == pytest.approx(0.210, abs=6e-4)
    # Weights that grow by a step, of Cohen's (1968) table. Independent: statsmodels.
    pairs = [((0, 0), 88), ((0, 1), 10), ((0, 2), 2), ((1, 0), 14), ((1, 1), 40), ((1, 2), 6),
             ((2, 0), 18), ((2, 1), 10), ((2, 2), 12)]  # fmt: skip
    table = {
        "observer": ["x"] * 200 + ["y"] * 200,
        "moment": [*range(200)] * 2,
        "behaviour": ["abc"[at[side]] for side in (0, 1) for at, times in pairs
                      for _ in range(times)],
    }  # fmt: skip
    found = ask("agreement", table, "observer moment behaviour", ranked=["a", "b", "c"])
    counts = np.array([times for _, times in pairs]).reshape(3, 3)
    theirs = cohens_kappa(counts, wt="linear")
    weighted = cell(found, "weighted", "x and y", "weighted kappa")
    assert weighted == pytest.approx(theirs.kappa)
    assert cell(found, "weighted", "x and y", "from") == pytest.approx(theirs.kappa_low, abs=1e-6)
