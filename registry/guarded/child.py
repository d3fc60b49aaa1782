"""What a child that reads strangers' files may use: its limits, and no network or program."""

import json
import resource
import sys
from typing import Any

from registry.guarded.limits import Room

OUT_OF_MEMORY = 77
"""The exit code of a child that got no more memory."""

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


def confine(room: Room) -> None:
    """Set this process's limits, and shut it off from network and other programs.

    Parameters
    ----------
    room : Room
        Its memory in bytes of addresses, and its seconds of computing.
    """
    resource.setrlimit(resource.RLIMIT_AS, (room.memory_bytes, room.memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (room.cpu_s, room.cpu_s + 5))
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
