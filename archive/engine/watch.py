"""Runs a check in a child with limits of memory, computing and time; the parent stays light.

A schema's pattern may take half a minute on one cell, and a hostile file may ask for any amount of
memory. Neither may reach the process that serves pages.
"""

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from archive.engine.codes import found
from archive.engine.descriptor import Descriptor
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Verdict
from archive.engine.gathering import gather
from archive.engine.limits import Limits
from archive.engine.reports import Report, Sink, StoredFindings, Told, read_findings
from registry.guarded.child import OUT_OF_MEMORY
from registry.guarded.sizes import span

ROOT = Path(__file__).resolve().parents[2]
COMMAND = (sys.executable, "-P", "-m", "archive.engine.child")
DEFAULT_LIMITS = Limits()


def check_in_child(
    folder: Path,
    *,
    facts: RegisterFacts | None = None,
    limits: Limits = DEFAULT_LIMITS,
    expected: Descriptor | None = None,
    descriptor: Descriptor | None = None,
    previous: Path | None = None,
    progress: Callable[[float], None] | None = None,
    limit_findings: int | None = None,
    findings_path: Path | None = None,
    today: date | None = None,
) -> Report:
    """Do what ``archive.engine.run.check`` does, in a child that may be stopped.

    Parameters are those of `check`. Without `findings_path` the findings are read into memory. With
    `today`, the latest day that the data can know of, the child also looks for causes, and the
    report has what is `told` of it.

    Returns
    -------
    Report
        Where the child was stopped or died, the verdict is "not checked", `reason` says why, and
        the findings made so far are kept. Once the verdict is told, it stands.
    """
    with tempfile.TemporaryDirectory(prefix="check-") as room:
        kept = findings_path or Path(room) / "findings.jsonl"
        kept.touch()
        options = {
            "folder": str(folder.resolve()),
            "facts": facts.to_json() if facts is not None else None,
            "limits": limits.as_dict(),
            "expected": expected,
            "descriptor": descriptor,
            "previous": str(previous.resolve()) if previous is not None else None,
            "limit_findings": limit_findings,
            "findings_path": str(kept.resolve()),
            "today": today.isoformat() if today is not None else None,
            "parent": os.getpid(),
        }
        heard = _run(options, limits, Path(room), progress)
        if heard.report is not None:
            report = Report.from_dict(heard.report, stored=kept)
        else:
            report = _cut_short(kept, heard.stopped)
        if today is not None:
            told = Told.from_dict(heard.told) if heard.told else gather(report, heard.stopped)
            report = replace(report, told=told)
        if findings_path is None:
            report = replace(report, findings=tuple(report.findings))
    return report


@dataclass(slots=True)
class _Heard:
    """What the child said: its report, what is told of it, and why it was stopped, if it was."""

    report: dict[str, Any] | None = None
    told: dict[str, Any] | None = None
    stopped: str = ""


def _run(
    options: dict[str, Any],
    limits: Limits,
    room: Path,
    progress: Callable[[float], None] | None,
) -> _Heard:
    """Start the child, listen to it, and give what it said."""
    late, heard = threading.Event(), _Heard()
    with (room / "errors.txt").open("w+b") as errors:
        child = subprocess.Popen(
            COMMAND,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            cwd=room,
            env=_surroundings(room),
            text=True,
            encoding="utf-8",
            start_new_session=True,
        )
        timer = threading.Timer(limits.wall_s, _stop, (child, late))
        timer.start()
        try:
            _listen(child, options, progress, heard)
            child.wait()
        finally:
            timer.cancel()
            if child.poll() is None:
                child.kill()
                child.wait()
            for stream in (child.stdin, child.stdout):
                if stream is not None:
                    stream.close()
        errors.seek(0)
        said = errors.read()[-4000:].decode("utf-8", "replace").strip()
    if child.returncode or heard.report is None:
        heard.stopped = _reason(child.returncode, late.is_set(), said, limits)
    return heard


def _listen(
    child: subprocess.Popen[str],
    options: dict[str, Any],
    progress: Callable[[float], None] | None,
    heard: _Heard,
) -> None:
    assert child.stdin is not None
    assert child.stdout is not None
    try:
        child.stdin.write(json.dumps(options))
        child.stdin.close()
    except BrokenPipeError:
        return
    for line in child.stdout:
        told = json.loads(line) if line.endswith("\n") else {}
        if "progress" in told and progress is not None:
            progress(float(told["progress"]))
        heard.report = told.get("report", heard.report)
        heard.told = told.get("told", heard.told)


def _stop(child: "subprocess.Popen[str]", late: threading.Event) -> None:
    late.set()
    child.kill()


def _surroundings(room: Path) -> dict[str, str]:
    """Hand the child no settings and no secrets, only what an interpreter needs."""
    wanted = ("PATH", "LANG", "LC_ALL", "STRANDLINE_ENGINE")
    kept = {name: os.environ[name] for name in wanted if name in os.environ}
    if folder := kernel_folder():
        kept["NUMBA_CACHE_DIR"] = str(folder)
    return kept | {
        "PYTHONPATH": str(ROOT),
        "PYTHONUTF8": "1",
        "HOME": str(room),
        "TMPDIR": str(room),
        # Each thread of these libraries would reserve memory of its own against the limit.
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }


def kernel_folder() -> Path | None:
    """Give the folder that keeps the compiled kernel between two checks; None leaves it to numba.

    ``NUMBA_CACHE_DIR`` says it, else it stands in the data folder that ``STRANDLINE_VAR`` names. It
    holds code, so nobody else may write there.
    """
    said, var = os.environ.get("NUMBA_CACHE_DIR"), os.environ.get("STRANDLINE_VAR")
    folder = Path(said) if said else Path(var) / "kernel" if var else None
    if folder is not None:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def warm() -> float:
    """Have the kernel compiled and kept, by a child, before the first table waits for it.

    Returns
    -------
    float
        How long it took, in seconds: about fifteen once, then one; 0 where it is switched off.

    Raises
    ------
    OSError, subprocess.SubprocessError
        When it could not be done; tables are checked all the same, and only wait longer.
    """
    if os.environ.get("STRANDLINE_ENGINE") == "slow":
        return 0.0
    began = time.monotonic()
    environment = _surroundings(Path(tempfile.gettempdir())) | {"STRANDLINE_ENGINE": "fast"}
    command = (sys.executable, "-P", "-m", "archive.engine.warm", str(os.getpid()))
    subprocess.run(command, env=environment, check=True, capture_output=True, timeout=300)
    return time.monotonic() - began


def _reason(code: int, is_late: bool, said: str, limits: Limits) -> str:
    if is_late:
        return f"The check took longer than {span(limits.wall_s)} and was stopped."
    if code == -signal.SIGXCPU:
        return f"The check used up its {span(limits.cpu_s)} of computing and was stopped."
    if code == OUT_OF_MEMORY or "MemoryError" in said:
        memory = f"{limits.memory_bytes / 1024**3:.3g} GB"
        return f"The check needed more than {memory} of memory and was stopped."
    last = said.splitlines()[-1] if said else "it said nothing"
    return f"The check broke off (exit code {code}): {last}"


def _cut_short(kept: Path, reason: str) -> Report:
    """Make a report of what a stopped child had found; it is never valid."""
    whole = kept.with_name(f"{kept.name}.whole")
    sink = Sink(whole)
    sink.take_all(read_findings(kept))
    sink.take(found("not-checked", reason))
    report = sink.report([], [])
    whole.replace(kept)
    findings = StoredFindings(kept, sink.count)
    return replace(report, verdict=Verdict.NOT_CHECKED, reason=reason, findings=findings)
