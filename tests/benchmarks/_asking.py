"""Ask for every page of the large collection, as every standing, and say how long each took."""

import sys
import time
from dataclasses import dataclass
from importlib import import_module
from typing import Any

from django.test import Client

from registry import notes
from tests.architecture.addresses import addresses, by_page, captures_for, said
from tests.benchmarks._examples import make_site
from tests.benchmarks._said import note, say, share

BUDGET_MS = 100.0
TIMES = 15
MORE = {
    "/oversight/review/": ("?by=month", "?happened_by=2024-03-01&known_by=2024-06-01"),
    "/oversight/review/uses.csv": (),
    "/animals/": ("?page=400", "?word=in_use"),
    "/search/": ("?q=cuttlefish", "?q=rays"),
    "/oversight/uses/": ("?page=2000", "?which=late", "?which=all", "?which=breach"),
    "/oversight/ledger/": ("?page=3000",),
}
"""Addresses that are also asked with these, besides bare."""


@dataclass(frozen=True)
class Asked:
    """What one page took: each answer's time in ms, and as whom it took the longest.

    `work_ms` is the processor's time alone: it tells a slow page from a busy machine.
    """

    path: str
    who: str
    times_ms: list[float]
    work_ms: float
    bytes: int

    @property
    def median(self) -> float:
        """The time of the middle answer."""
        return share(self.times_ms, 0.5)

    @property
    def p95(self) -> float:
        """The time that 19 of 20 answers keep."""
        return share(self.times_ms, 0.95)


def once(browser: Client, path: str) -> tuple[float, float, int, int]:
    """Ask once; give the time and the processor's time in ms, the status and the bytes."""
    began, worked = time.perf_counter(), time.process_time()
    answer: Any = browser.get(path)
    if answer.streaming:  # until the first piece; the rest leaves as fast as the other side reads
        pieces = iter(answer.streaming_content)
        size = len(next(pieces, b""))
    else:
        size = len(answer.content)
    took = (time.perf_counter() - began) * 1000
    work = (time.process_time() - worked) * 1000
    answer.close()
    return took, work, answer.status_code, size


def paths() -> list[str]:
    """Write out every address of a page, with the examples."""
    site = make_site()
    pages, found = by_page(site), []
    for address in addresses():
        if address.is_api:
            continue
        try:
            given_here = captures_for(address, site, pages)
        except (KeyError, IndexError):
            note(f"  {address.route} is not asked for: the demo holds no example of it")
            continue
        for given in given_here:
            found += [path] if (path := said(address, given)) else []
    more = [path + asked for path in found for asked in MORE.get(path, ())]
    return [*dict.fromkeys([*found, *more])]


def browsers() -> dict[str, Client]:
    """Give a signed-in browser for each standing."""
    signed_in = {}
    for who, person in make_site().people.items():
        signed_in[who] = Client(headers={"host": "localhost"})
        signed_in[who].force_login(person)
    return signed_in


def ask(path: str, signed_in: dict[str, Client], times: int) -> list[Asked]:
    """Ask for a page as everyone, then again as whom it took longest; Today as each."""
    first = {}
    for who, browser in signed_in.items():
        took, _, status, size = once(browser, path)
        if status >= 500:
            note(f"  {path} as {who}: {status}")
        if status == 200:
            first[who] = (took, size)
    if not first:
        return []
    slowest = max(first, key=lambda who: first[who][0])
    found = []
    for who in first if path == "/" else [slowest]:
        least = times if first[who][0] < 2000 else 3
        again = [once(signed_in[who], path) for _ in range(least)]
        work = share([one[1] for one in again], 0.5)
        found.append(Asked(path, who, [one[0] for one in again], work, first[who][1]))
    return found


def told(asked: list[Asked], most: int) -> str:
    """Write the slowest as a table."""
    rows = [f"{'page':<58}{'as':<20}{'median ms':>10}{'p95 ms':>9}{'work ms':>9}{'kB':>8}"]
    for one in sorted(asked, key=lambda one: -one.p95)[:most]:
        numbers = f"{one.median:>10.1f}{one.p95:>9.1f}{one.work_ms:>9.1f}{one.bytes / 1000:>8.0f}"
        rows.append(f"{one.path[:56]:<58}{one.who[:18]:<20}{numbers}")
    return "\n".join(rows)


def main() -> None:
    """Ask, and say."""
    name, only, times = sys.argv[1:2], sys.argv[2:3], int((sys.argv[3:4] or [TIMES])[0])
    import_module("registry.wsgi")  # what it loads is frozen, as where the site is served
    signed_in, asked = browsers(), []
    notes.beat()  # a worker is there; without one /healthy/ says so by its status
    for path in paths():
        if not only or only[0] in {"", path} or (only[0] in path and only[0] != "/"):
            asked += ask(path, signed_in, times)
    note(told(asked, 10 if not only else 60))
    over = sum(one.p95 > BUDGET_MS for one in asked)
    note(f"{len(asked)} pages were asked; {over} took more than {BUDGET_MS:.0f} ms.")
    case = (name or ["pages"])[0]
    for one in asked:
        say(f"{case}: {one.path} as {one.who}, p95", one.p95, BUDGET_MS, "ms")
    worst = max(asked, key=lambda one: one.p95)
    say(f"{case}: the slowest, p95", worst.p95, BUDGET_MS, "ms")
    middle = share([one.median for one in asked], 0.5)
    say(f"{case}: the middle page, median", middle, BUDGET_MS, "ms")


if __name__ == "__main__":
    main()
