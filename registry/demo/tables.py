"""The tables of the demo's data packages: drawn at random from a seed, so always the same.

Days are told as the story tells them and moved along with it. Nothing here was ever measured.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from random import Random
from typing import Any

from registry.demo.cohorts import later
from registry.demo.diary import Story

SEED = 20_240_303

FLOWS = ("still", "gentle", "brisk")
_DAYS_TO_HATCH_D = {"still": 57.2, "gentle": 52.4, "brisk": 50.3}
_HATCHES = {"still": 0.71, "gentle": 0.90, "brisk": 0.84}
_MANTLE_MM = {"still": 7.6, "gentle": 7.5, "brisk": 7.1}
_FLOW_L_MIN = {"still": 0.2, "gentle": 1.5, "brisk": 4.1}
NURSERY = tuple(str(number) for number in range(31, 43))
FLOW_OF = {tank: FLOWS[at // 4] for at, tank in enumerate(NURSERY)}


def written(heading: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Write a table as CSV."""
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(heading)
    table.writerows(rows)
    return text.getvalue()


# --------------------------------------------------------------------------------- egg strings


class Season:
    """One cohort's egg strings: four laying weeks, in each three tanks of three strings."""

    def __init__(self, story: Story, cohort: int, hung: Sequence[str], blocks: Any) -> None:
        self.story, self.cohort = story, cohort
        self.hung, self.blocks = tuple(hung), tuple(blocks)
        draw = Random(SEED + cohort)
        self.strings: list[dict[str, Any]] = []
        for at, (day, tanks) in enumerate(zip(self.hung, self.blocks, strict=True)):
            for nth, tank in enumerate(tanks):
                of_tank = draw.gauss(0, 1.5)
                for third in range(3):
                    number = at * 9 + nth * 3 + third + 1
                    self.strings.append(self._string(draw, number, day, tank, of_tank))

    def _string(
        self, draw: Random, number: int, hung: str, tank: str, of_tank: float
    ) -> dict[str, Any]:
        flow = FLOW_OF[tank]
        fertile = draw.randint(6, 14)
        laid = later(hung, -draw.randint(1, 3))
        days = round(_DAYS_TO_HATCH_D[flow] + of_tank + draw.gauss(0, 1.2))
        return {
            "code": f"{self.cohort}-{number:02}",
            "tank": tank,
            "flow": flow,
            "hung": hung,
            "laid": laid,
            "laid_in": draw.choice(("51", "52", "53")),
            "cut": draw.choice(("whole", "whole", "cut")),
            "fertile": fertile,
            "hatched": sum(draw.random() < _HATCHES[flow] for _ in range(fertile)),
            "days": days,
            "mantles": [round(draw.gauss(_MANTLE_MM[flow], 0.35), 1) for _ in range(3)],
        }

    def codes_of(self, day: str) -> list[dict[str, Any]]:
        """Give the strings that were hung on a day."""
        return [one for one in self.strings if one["hung"] == day]

    def tables(
        self,
        *,
        until: str,
        dictionary: int,
        lost: tuple[str, str] | None = None,
        has_clock_fault: bool = False,
        measured_until: str = "",
    ) -> dict[str, str]:
        """Give the three tables as they stood on a day of the story.

        `lost` is a tank and the day on which its strings died.
        """
        draw = Random(SEED * 7 + self.cohort)
        rows: dict[str, list[list[Any]]] = {"strings": [], "checks": [], "hatch": []}
        for one in self.strings:
            died = lost[1] if lost and one["tank"] == lost[0] else ""
            out = later(one["laid"], one["days"])
            is_out = out <= until and not died
            rows["strings"].append(self._hung(one, is_out=is_out, is_lost=bool(died)))
            last = min(day for day in (until, out, died) if day)
            looks = self._looks(draw, one, last, dictionary, has_clock_fault=has_clock_fault)
            rows["checks"] += looks
            if is_out and out <= (measured_until or until):
                rows["hatch"] += self._measured(one, out, dictionary)
        check_heading = ["string", "tank", "checked_on", "flow_set", "flow", "readings", "stage"]
        hatch_heading = ["string", "hatchling", "measured_on", "mantle_length", "measured_by"]
        if dictionary < 2:
            check_heading.remove("readings")
            hatch_heading[3] = "mantle_cm"
        if dictionary < 3:
            hatch_heading.remove("measured_by")
        heading = {
            "strings": [
                "string", "laid_in", "tank", "flow_set", "laid_on", "cut", "fertile", "hatched",
                "days_to_hatch",
            ],
            "checks": check_heading,
            "hatch": hatch_heading,
        }  # fmt: skip
        rows["checks"].sort(key=lambda row: (row[2], row[0]))
        return {f"{name}.csv": written(heading[name], rows[name]) for name in rows}

    def _hung(self, one: dict[str, Any], *, is_out: bool, is_lost: bool) -> list[Any]:
        hatched = 0 if is_lost else one["hatched"] if is_out else ""
        return [
            one["code"],
            one["laid_in"],
            one["tank"],
            one["flow"],
            self.story.day(one["laid"]).isoformat(),
            one["cut"],
            one["fertile"],
            hatched,
            one["days"] if is_out else "",
        ]

    def _looks(
        self,
        draw: Random,
        one: dict[str, Any],
        last: str,
        dictionary: int,
        *,
        has_clock_fault: bool,
    ) -> list[list[Any]]:
        looks: list[list[Any]] = []
        after = 3
        while (day := later(one["hung"], after)) <= last:
            share = (after + 2) / one["days"]
            stage = min(7, 1 + int(share * 6.4))
            flow = max(0.0, draw.gauss(_FLOW_L_MIN[one["flow"]], 0.06 + 0.03 * (stage % 2)))
            if has_clock_fault and one["tank"] == "36" and 20 <= after <= 29:
                flow /= 2
            row = [one["code"], one["tank"], self.story.day(day).isoformat(), one["flow"]]
            row.append(f"{flow:.2f}")
            if dictionary >= 2:
                row.append(str(draw.randint(980, 1008)))
            row.append(str(stage))
            looks.append(row)
            after += 4 if after % 7 == 3 else 3
        return looks

    def _measured(self, one: dict[str, Any], out: str, dictionary: int) -> list[list[Any]]:
        # Measured at the next of the two looks of the week.
        after = 3
        while (day := later(one["hung"], after)) < out:
            after += 4 if after % 7 == 3 else 3
        rows: list[list[Any]] = []
        for nth, mantle in enumerate(one["mantles"][: min(3, one["hatched"])], 1):
            length = mantle if dictionary >= 2 else round(mantle / 10, 2)
            row: list[Any] = [one["code"], nth, self.story.day(day).isoformat(), length]
            if dictionary >= 3:
                row.append("photograph")
            rows.append(row)
        return rows


# ------------------------------------------------------------------------------------- the others


def choices(
    story: Story, cohort: int, days: Sequence[str], shoals: dict[str, str], sessions: dict[str, str]
) -> dict[str, str]:
    """Give how many of each shoal of twelve lay on which floor; sessions by their day."""
    draw = Random(SEED + 100 + cohort)
    rows: list[list[Any]] = []
    for at, day in enumerate(days):
        for shoal, tank in shoals.items():
            sand = sum(draw.random() < 0.44 + 0.03 * at for _ in range(12))
            gravel = sum(draw.random() < 0.6 for _ in range(12 - sand))
            buried = sum(draw.random() < 0.12 * at for _ in range(sand))
            rows.append(
                [
                    shoal,
                    tank,
                    sessions.get(day, ""),
                    story.day(day).isoformat(),
                    sand,
                    gravel,
                    12 - sand - gravel,
                    buried,
                ]
            )
    heading = ["shoal", "tank", "session", "looked_on", "sand", "gravel", "bare", "buried"]
    return {"choice.csv": written(heading, rows)}


_BUDGET = {
    "few": {
        "CARRY": 9, "PLACE": 10, "TAKE": 4, "REST": 27, "PREEN": 14, "WALK": 19, "BATHE": 9,
        "OTHER": 5, "UNSEEN": 3,
    },
    "plenty": {
        "CARRY": 13, "PLACE": 16, "TAKE": 1, "REST": 33, "PREEN": 14, "WALK": 9, "BATHE": 7,
        "OTHER": 4, "UNSEEN": 3,
    },
}  # fmt: skip
"""Scans in a hundred, invented, for a week of few pebbles and one of plenty."""


def scans_of_gentoos(
    story: Story, cohort: int, sessions: Sequence[tuple[str, str, str]], birds: dict[str, str]
) -> dict[str, str]:
    """Give scans every five minutes for 40 minutes, and nests counted once a week.

    `sessions` are code, day and the week's supply; `birds` are their codes with their pairs.
    """
    draw = Random(SEED + 200 + cohort)
    scans: list[list[Any]] = []
    nests: dict[tuple[str, str], list[Any]] = {}
    pebbles = dict.fromkeys(birds.values(), 60)
    for code, day, supply in sessions:
        budget = _BUDGET[supply]
        for nth in range(8):
            moment = story.at(f"{day} 13:{5 * nth:02}")
            for bird, pair in birds.items():
                done = draw.choices(list(budget), list(budget.values()))[0]
                scans.append([code, moment.isoformat(), bird, pair, supply, done])
        for pair in pebbles:
            change = draw.randint(4, 30) if supply == "plenty" else draw.randint(-12, 8)
            pebbles[pair] = max(5, pebbles[pair] + change)
            counted_on = story.day(day).isoformat()
            nests[pair, counted_on] = [pair, counted_on, supply, pebbles[pair]]
    scan_heading = ["session", "scanned_at", "bird", "pair", "supply", "behaviour"]
    nest_heading = ["pair", "counted_on", "supply", "pebbles"]
    return {
        "scans.csv": written(scan_heading, scans),
        "nests.csv": written(nest_heading, nests.values()),
    }


def scans_of_rays(
    story: Story, sessions: Sequence[tuple[str, str, str]], rays: Sequence[str]
) -> dict[str, str]:
    """Give three scans a session; `sessions` are code, day and which half was the dimmer one."""
    draw = Random(SEED + 300)
    rows: list[list[Any]] = []
    for code, day, dimmer in sessions:
        brighter = "window" if dimmer == "channel" else "channel"
        for minutes in (0, 10, 20):
            moment = story.at(f"{day} 10:{minutes:02}")
            for ray in rays:
                half = dimmer if draw.random() < 0.72 else brighter
                rests = str(draw.random() < 0.8).lower()
                rows.append([code, moment.isoformat(), ray, dimmer, half, rests])
    heading = ["session", "seen_at", "ray", "dimmer", "half", "rests"]
    return {"scans.csv": written(heading, rows)}


def weighings(
    story: Story, days: Sequence[str], shoals: dict[str, tuple[str, int]]
) -> dict[str, str]:
    """Give tank means of mass and length; `shoals` are codes with tank and hours of light."""
    draw = Random(SEED + 400)
    rows: list[list[Any]] = []
    mass = {shoal: draw.gauss(4.2, 0.3) for shoal in shoals}
    for at, day in enumerate(days):
        for shoal, (tank, light) in shoals.items():
            if at:
                mass[shoal] *= draw.gauss(1.34 if light == 16 else 1.29, 0.02)
            length = 17.5 * mass[shoal] ** (1 / 3)
            frayed = sum(draw.random() < (0.02 if light == 8 else 0.03) * at for _ in range(12))
            rows.append(
                [
                    shoal,
                    tank,
                    light,
                    story.day(day).isoformat(),
                    12,
                    f"{mass[shoal]:.1f}",
                    f"{length:.0f}",
                    frayed,
                ]
            )
    heading = ["shoal", "tank", "light", "weighed_on", "fish", "mass", "length", "fins"]
    return {"growth.csv": written(heading, rows)}
