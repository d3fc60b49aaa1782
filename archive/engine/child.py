"""The child that checks: options as JSON come in, progress and the report as JSON lines go out.

Started as ``python -m archive.engine.child`` by ``archive.engine.watch``; its limits are set before
it reads anything, and it may open no connection and start no program.
"""

import json
import resource
import sys
from pathlib import Path
from typing import Any

from archive.engine.facts import RegisterFacts
from archive.engine.limits import Limits
from archive.engine.run import check
from archive.engine.watch import OUT_OF_MEMORY

FORBIDDEN = (
    "socket.connect",
    "socket.bind",
    "socket.getaddrinfo",
    "socket.gethostbyname",
    "socket.sendto",
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.fork",
)


def main() -> int:
    """Check one package as the options on standard input say."""
    options = json.load(sys.stdin)
    limits = Limits.from_dict(options["limits"])
    confine(limits)
    try:
        report = check(
            Path(options["folder"]),
            facts=RegisterFacts.from_json(options["facts"]) if options["facts"] else None,
            limits=limits,
            expected=options["expected"],
            descriptor=options["descriptor"],
            previous=Path(options["previous"]) if options["previous"] else None,
            progress=lambda share: tell({"progress": round(share, 4)}),
            limit_findings=options["limit_findings"],
            findings_path=Path(options["findings_path"]),
        )
    except MemoryError:
        return OUT_OF_MEMORY
    tell({"report": report.as_dict(with_findings=False)})
    return 0


def confine(limits: Limits) -> None:
    """Set this process's limits, and shut it off from network and other programs."""
    resource.setrlimit(resource.RLIMIT_AS, (limits.memory_bytes, limits.memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (limits.cpu_s, limits.cpu_s + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    sys.addaudithook(_refuse)


def _refuse(event: str, _args: tuple[Any, ...]) -> None:
    if event in FORBIDDEN:
        message = f"A check may not do this: {event}."
        raise PermissionError(message)


def tell(told: dict[str, Any]) -> None:
    """Write one line to the parent."""
    sys.stdout.write(json.dumps(told, ensure_ascii=False) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
