"""Small open tables with what was published of them; the source stands beside each.

“From memory” is a table recalled, and confirmed by its published result alone.
"""

import csv
import importlib.resources
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from archive.analysis.asked.offered import KINDS


@dataclass(frozen=True)
class Published:
    """A table as it is deposited, what is asked of it, and what it gives by the source."""

    name: str
    heads: str
    rows: Sequence[Sequence[Any]]
    kind: str
    columns: dict[str, str]
    tests: dict[tuple[str, str], float] = field(default_factory=dict)
    """Name of a test and of its figure ("p" among them), and the published value."""
    cells: dict[tuple[str, str, str], float] = field(default_factory=dict)
    """Table, first cell of a row and head, and the published value."""
    options: dict[str, Any] = field(default_factory=dict)

    @property
    def text(self) -> bytes:
        """The table as CSV."""
        written = io.StringIO(newline="")
        table = csv.writer(written, lineterminator="\n")
        table.writerows([self.heads.split(), *self.rows])
        return written.getvalue().encode()

    @property
    def resource(self) -> dict[str, Any]:
        """Its description; a column that some analysis takes as a number is one."""
        assert self.kind in KINDS
        fields = []
        for at, name in enumerate(self.heads.split()):
            cells = [row[at] for row in self.rows if row[at] not in {"", None}]
            kind = "number" if all(isinstance(one, int | float) for one in cells) else "string"
            if cells and all(one in {"true", "false"} for one in cells):
                kind = "boolean"
            fields.append({"name": name, "type": kind})
        schema = {"fields": fields, "missingValues": [""]}
        return {"name": self.name, "type": "table", "path": f"{self.name}.csv", "schema": schema}


def of_arms(arms: dict[str, Sequence[float]]) -> list[tuple[str, str, float]]:
    """Give a row for each unit, each with a name of its own."""
    return [
        (f"{arm}{n}", arm, value) for arm, values in arms.items() for n, value in enumerate(values)
    ]


def of_pairs(arms: dict[str, Sequence[float]]) -> list[tuple[str, str, float]]:
    """Give a row for each unit in each arm, units alike in all."""
    return [(f"u{n}", arm, value) for arm, values in arms.items() for n, value in enumerate(values)]


BY_ARM = {"outcome": "value", "unit": "unit", "treatment": "arm"}

# R's dataset PlantGrowth, from Dobson (1983): F 4.846, p .01591; Tukey .3909 .1980 .0120.
PLANTS = {
    "ctrl": [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
    "trt1": [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
    "trt2": [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
}
# R's dataset chickwts, from Anonymous (1948), Biometrika 35: F(5, 65) 15.365, p 5.94e-10.
CHICKS = {
    "casein": [368, 390, 379, 260, 404, 318, 352, 359, 216, 222, 283, 332],
    "horsebean": [179, 160, 136, 227, 217, 168, 108, 124, 143, 140],
    "linseed": [309, 229, 181, 141, 260, 203, 148, 169, 213, 257, 244, 271],
    "meatmeal": [325, 257, 303, 315, 380, 153, 263, 242, 206, 344, 258],
    "soybean": [243, 230, 248, 327, 329, 250, 193, 271, 316, 267, 199, 171, 158, 248],
    "sunflower": [423, 340, 392, 339, 341, 226, 320, 295, 334, 322, 297, 318],
}
# R's dataset ToothGrowth, from Crampton (1947): Welch's t 1.9153 on 55.309, p .06063.
TEETH = {
    "VC": [
        4.2, 11.5, 7.3, 5.8, 6.4, 10, 11.2, 11.2, 5.2, 7, 16.5, 16.5, 15.2, 17.3, 22.5, 17.3, 13.6,
        14.5, 18.8, 15.5, 23.6, 18.5, 33.9, 25.5, 26.4, 32.5, 26.7, 21.5, 23.3, 29.5,
    ],
    "OJ": [
        15.2, 21.5, 17.6, 9.7, 14.5, 10, 8.2, 9.4, 16.5, 9.7, 19.7, 23.3, 23.6, 26.4, 20, 25.2,
        25.8, 21.2, 14.5, 27.3, 25.5, 26.4, 22.4, 24.5, 24.8, 30.9, 26.4, 27.3, 29.4, 23,
    ],
}  # fmt: skip
# R's dataset sleep, from Student (1908): paired t −4.0621 on 9, p .002833.
SLEEP = {
    "first": [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    "second": [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
}
# Darwin's maize in Fisher (1935): t 2.148, p .0497; heights in eighths of an inch.
MAIZE = {
    "crossed": [188, 96, 168, 176, 153, 172, 177, 163, 146, 173, 186, 168, 177, 184, 96],
    "selfed": [139, 163, 160, 160, 147, 149, 149, 122, 132, 144, 130, 144, 102, 124, 144],
}
# Hollander and Wolfe (1973), p. 116, as in R's help of kruskal.test: H .77143.
CLEARANCE = {
    "normal": [2.9, 3.0, 2.5, 2.6, 3.2],
    "obstructed": [3.8, 2.7, 4.0, 2.4],
    "asbestosis": [2.8, 3.4, 3.7, 2.2, 2.0],
}
# Hollander and Wolfe (1973), p. 69, as in R's help of wilcox.test: W 35, p .1272 of one side.
PERMEABILITY = {
    "at term": [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46],
    "early": [1.15, 0.88, 0.90, 0.74, 1.21],
}
# Hollander and Wolfe (1973), p. 140, as in R's help of friedman.test: 11.143.
ROUNDING = [
    5.40, 5.50, 5.55, 5.85, 5.70, 5.75, 5.20, 5.60, 5.50, 5.55, 5.50, 5.40, 5.90, 5.85, 5.70,
    5.45, 5.55, 5.60, 5.40, 5.40, 5.35, 5.45, 5.50, 5.35, 5.25, 5.15, 5.00, 5.85, 5.80, 5.70,
    5.25, 5.20, 5.10, 5.65, 5.55, 5.45, 5.60, 5.35, 5.45, 5.05, 5.00, 4.95, 5.50, 5.50, 5.40,
    5.45, 5.55, 5.50, 5.55, 5.55, 5.35, 5.45, 5.50, 5.55, 5.50, 5.45, 5.25, 5.65, 5.60, 5.40,
    5.70, 5.65, 5.55, 6.30, 6.30, 6.25,
]  # fmt: skip
# Freireich et al. (1963) as Gehan (1965) has it: medians 23 and 8 weeks, log-rank 16.79.
TREATED = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
CONTROL = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
REMISSION = [
    *((f"t{n}", "6-MP", weeks, str(n < 9).lower()) for n, weeks in enumerate(TREATED)),
    *((f"c{n}", "control", weeks, "true") for n, weeks in enumerate(CONTROL)),
]
# Weil (1970), rat pups that lived, a litter each: .898 and .740 of those weaned alive.
PUPS = [
    *(
        (f"c{n}", "control", of, seen)
        for n, (of, seen) in enumerate(
            zip(
                [13, 12, 9, 9, 8, 8, 13, 12, 10, 10, 9, 13, 5, 7, 10, 10],
                [13, 12, 9, 9, 8, 8, 12, 11, 9, 9, 8, 11, 4, 5, 7, 7],
                strict=True,
            )
        )
    ),
    *(
        (f"t{n}", "treated", of, seen)
        for n, (of, seen) in enumerate(
            zip(
                [12, 11, 10, 9, 11, 10, 10, 9, 9, 5, 9, 7, 10, 6, 10, 7],
                [12, 11, 10, 9, 10, 9, 9, 8, 8, 4, 7, 4, 5, 3, 3, 0],
                strict=True,
            )
        )
    ),
]
# Cohen (1968), 200 patients, two judges: kappa .492.
JUDGED = [[88, 10, 2], [14, 40, 6], [18, 10, 12]]
DIAGNOSES = [
    (f"p{first}{second}{n}", judge, "abc"[place])
    for first, row in enumerate(JUDGED)
    for second, times in enumerate(row)
    for n in range(times)
    for judge, place in (("one", first), ("two", second))
]
# Krippendorff (2011), four observers and twelve units: nominal alpha .743.
TWELVE = ["123321412...", "1233224125.3", ".3332342251.", "12332441251."]
CODED = [
    (f"u{at}", f"o{observer}", f"c{code}")
    for observer, codes in enumerate(TWELVE)
    for at, code in enumerate(codes)
    if code != "."
]
# Plowman's index on 60, 25, 10 and 5 sightings of zones of .4, .3, .2 and .1, by hand: .2222.
ZONES = [("one", zone) for zone, n in (("a", 60), ("b", 25), ("c", 10), ("d", 5)) for _ in range(n)]


def penguins() -> list[tuple[str, str, Any]]:
    """Give species and flipper of each bird: palmerpenguins (CC0), Gorman et al. (2014)."""
    file = importlib.resources.files("palmerpenguins").joinpath("data/penguins.csv")
    rows = csv.DictReader(io.StringIO(file.read_text(encoding="utf-8")))
    return [
        (f"bird{n}", row["species"], int(row["flipper_length_mm"]))
        for n, row in enumerate(rows)
        if row["flipper_length_mm"].isdigit()
    ]


TABLES = (
    Published(
        "penguins", "unit arm value", penguins(), "comparison", BY_ARM,
        {("unit_f", "F"): 594.8, ("unit_f", "df of error"): 339},
        {("arms", "Adelie", "mean"): 189.95, ("arms", "Chinstrap", "mean"): 195.82,
         ("arms", "Gentoo", "mean"): 217.19},
    ),
    Published(
        "plants", "unit arm value", of_arms(PLANTS), "comparison", BY_ARM,
        {("unit_f", "F"): 4.846, ("unit_f", "p"): 0.01591},
    ),
    Published(
        "chicks", "unit arm value", of_arms(CHICKS), "comparison", BY_ARM,
        {("unit_f", "F"): 15.365, ("unit_f", "p"): 5.94e-10},
    ),
    Published(
        "teeth", "unit arm value", of_arms(TEETH), "comparison", BY_ARM,
        {("welch_t", "t"): 1.9153, ("welch_t", "df"): 55.309, ("welch_t", "p"): 0.06063},
        options={"reference": "VC", "test": "welch_t"},
    ),
    Published(
        "sleep", "unit arm value", of_pairs(SLEEP), "comparison", BY_ARM,
        {("paired_t", "t"): 4.0621, ("paired_t", "p"): 0.002833}, options={"reference": "first"},
    ),
    Published(
        "maize", "unit arm value", of_pairs(MAIZE), "comparison", BY_ARM,
        {("paired_t", "t"): 2.148, ("paired_t", "p"): 0.0497}, options={"reference": "selfed"},
    ),
    Published(
        "clearance", "unit arm value", of_arms(CLEARANCE), "comparison", BY_ARM,
        {("kruskal_wallis", "H"): 0.77143}, options={"test": "kruskal_wallis"},
    ),
    Published(
        "permeability", "unit arm value", of_arms(PERMEABILITY), "comparison", BY_ARM,
        {("rank_sum", "W"): 35, ("rank_sum", "p"): 2 * 0.1272},
        options={"reference": "early", "test": "rank_sum"},
    ),
    Published(
        "rounding", "unit arm value",
        [(f"p{n // 3}", ("round", "narrow", "wide")[n % 3], v) for n, v in enumerate(ROUNDING)],
        "comparison", BY_ARM, {("friedman", "χ²"): 11.143},
        {("arms", "round", "units"): 22},
    ),
    Published(
        "remission", "unit arm weeks relapsed", REMISSION, "survival",
        {"time": "weeks", "happened": "relapsed", "unit": "unit", "treatment": "arm"},
        {("log_rank", "χ²"): 16.79},
        {("medians", "6-MP", "median"): 23, ("medians", "control", "median"): 8},
    ),
    Published(
        "pups", "unit arm born lived", PUPS, "hatching",
        {"fertile": "born", "hatched": "lived", "unit": "unit", "treatment": "arm"},
        cells={("hatching", "control", "share of fertile"): 0.899,
               ("hatching", "treated", "share of fertile"): 0.772},
        options={"reference": "control"},
    ),
    Published(
        "diagnoses", "moment who said", DIAGNOSES, "agreement",
        {"moment": "moment", "observer": "who", "behaviour": "said"},
        cells={("pairs", "one and two", "kappa"): 0.492},
    ),
    Published(
        "coded", "moment who said", CODED, "agreement",
        {"moment": "moment", "observer": "who", "behaviour": "said"},
        cells={("alpha", "all observers", "alpha"): 0.743},
    ),
    Published(
        "zones", "animal zone", ZONES, "space", {"animal": "animal", "zone": "zone"},
        cells={("animals", "one", "spread of participation"): 0.2222},
        options={"areas": {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}},
    ),
)  # fmt: skip
