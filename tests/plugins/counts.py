"""An honest count: no skip without a listed reason, no kind of test missing, the budget at the end.

`--at-least browser=12` fails a run in which fewer than twelve tests marked `browser` passed, so
that a missing service cannot pass for green. A test that goes through many cases of others
prints how many ("OCFL: 77 cases ran"), and the line is repeated at the end of the run.
"""

import json
import os
import re
import time
from collections import Counter
from pathlib import Path

import pytest

# A skip whose reason begins with a key here is allowed; the value says why it may be.
ALLOWED_SKIPS = {
    "STRANDLINE_SUITES is not set": "the suites of others are lent to the project, not part of it",
}
RAN = re.compile(r"\b\d+ [a-z]+ ran\b")
TOTAL_S = 1500.0  # the whole check, on two cores
KINDS = ("browser", "journey", "postgres", "outside", "suites")


def table(phases: list[dict[str, object]]) -> list[str]:
    """Give the lines of the budget: what each phase took, and what it may take."""
    lines = [f"{'phase':<16}{'seconds':>9}{'budget':>9}"]
    spent = allowed = 0.0
    for phase in phases:
        seconds, budget = float(str(phase["seconds"])), float(str(phase["budget"]))
        spent, allowed = spent + seconds, allowed + budget
        marks = ["over its budget"] * (seconds > budget) + ["FAILED"] * bool(phase["failed"])
        lines.append(
            f"{phase['name']:<16}{seconds:>9.1f}{budget:>9.0f}  {', '.join(marks)}".rstrip()
        )
    lines.append(f"{'in all':<16}{spent:>9.1f}{max(allowed, TOTAL_S):>9.0f}")
    failed = [str(step) for phase in phases for step in phase["failed"]]  # type: ignore[attr-defined]
    lines.append(
        f"failed: {', '.join(failed)}" if failed else "every phase before this line passed"
    )
    return lines


class Counts:
    """What ran, what was skipped and why, and what of it is not allowed."""

    def __init__(self, config: pytest.Config) -> None:
        self.passed: Counter[str] = Counter()
        self.ran: list[str] = []
        self.problems: list[str] = []
        # A worker hears of its own tests alone: whoever hears of all of them counts.
        at_least = [] if hasattr(config, "workerinput") else config.getoption("at_least")
        self.least = dict(one.split("=", 1) for one in at_least)
        self.timings = config.getoption("timings")

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Mark what reads the lent suites, so that it is counted."""
        for item in items:
            if "suites" in getattr(item, "fixturenames", ()):
                item.add_marker("suites")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Count a pass by its marks; look at a skip's reason."""
        if report.when == "call" and report.passed:
            self.passed.update(kind for kind in KINDS if kind in report.keywords)
            self.ran += [line for line in report.capstdout.splitlines() if RAN.search(line)]
        if report.skipped and not hasattr(report, "wasxfail"):
            self.look_at(report)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Look at the reason of a whole file's skip."""
        if report.skipped:
            self.look_at(report)

    def look_at(self, report: pytest.TestReport | pytest.CollectReport) -> None:
        """Note a skip that is not on the list."""
        where = report.longrepr
        reason = where[2] if isinstance(where, tuple) else str(where)
        reason = reason.removeprefix("Skipped: ")
        if not any(reason.startswith(allowed) for allowed in ALLOWED_SKIPS):
            self.problems.append(f"{report.nodeid} was skipped for a reason not listed: {reason}")

    def pytest_sessionfinish(self, session: pytest.Session, exitstatus: int) -> None:
        """Fail the run that is not what it seems."""
        for kind, least in self.least.items():
            if self.passed[kind] < int(least):
                self.problems.append(
                    f"{self.passed[kind]} tests marked {kind} passed; there are at least {least}, "
                    "so something that they need is missing"
                )
        if self.problems and exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Print what was counted, what is wrong with it and, in the last run, the budget."""
        counted = ", ".join(f"{self.passed[kind]} {kind}" for kind in KINDS if self.passed[kind])
        if counted:
            terminalreporter.line(f"passed by kind: {counted}")
        for line in self.ran:
            terminalreporter.line(line)
        if self.problems:
            terminalreporter.section("not what it seems", red=True)
            for problem in self.problems:
                terminalreporter.line(problem)
        if self.timings:
            path = Path(self.timings)
            phases = json.loads(path.read_text(encoding="utf-8"))
            phases[-1]["seconds"] += time.time() - phases[-1].pop("began")
            if terminalreporter._session.exitstatus:
                phases[-1]["failed"].append(phases[-1]["name"])
            terminalreporter.section("budget")
            for line in table(phases):
                terminalreporter.line(line)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the two options of the whole check."""
    group = parser.getgroup("strandline")
    group.addoption(
        "--at-least",
        action="append",
        default=[],
        metavar="KIND=N",
        help="fail unless at least N tests of this kind passed",
    )
    group.addoption("--timings", help="the file of the phases' times, printed as the budget")


def pytest_configure(config: pytest.Config) -> None:
    """Begin to count."""
    config.pluginmanager.register(Counts(config), "strandline-counts")


@pytest.fixture(scope="session")
def suites() -> Path:
    """Give the folder of the suites that others wrote, or skip where they are not lent."""
    said = os.environ.get("STRANDLINE_SUITES", "")
    if not said:
        pytest.skip(
            "STRANDLINE_SUITES is not set: the suites of others are not beside this checkout"
        )
    folder = Path(said)
    if not folder.is_dir():
        pytest.fail(f"STRANDLINE_SUITES names {folder}, which is no folder", pytrace=False)
    return folder
