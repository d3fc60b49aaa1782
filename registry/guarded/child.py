"""What a child that reads strangers' files may use: its limits, and no network or program."""

import json
import resource
import sys
from collections.abc import Callable
from typing import Any

from registry.errors import Refusal
from registry.guarded.limits import Room
from registry.orphans import die_with

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


type Told = dict[str, Any]
"""What JSON can hold: the options that come in, and the answer that goes out."""


def answer_once(answer: Callable[[Told], Told], room: Callable[[Told], Room]) -> int:
    """Answer the options on standard input within a room, and give the exit code.

    Parameters
    ----------
    answer : callable
        Takes the options and gives the answer; a refusal that it raises is told as one.
    room : callable
        Takes the options and gives what the answer may use.
    """
    options = json.load(sys.stdin)
    die_with(options["parent"])
    confine(room(options))
    try:
        told = answer(options)
    except Refusal as refusal:
        told = refused(refusal)
    except MemoryError:
        return OUT_OF_MEMORY
    tell(told)
    return 0


def refused(refusal: Refusal) -> Told:
    """Give a refusal as `registry.guarded.asking.ask` raises it again."""
    return {"refused": {"kind": type(refusal).__name__, **refusal.as_dict()}}


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


def tell(told: Told) -> None:
    """Write one line to the parent."""
    sys.stdout.write(json.dumps(told, ensure_ascii=False) + "\n")
    sys.stdout.flush()
