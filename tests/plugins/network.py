"""No call leaves the machine: a test that tries fails and says whom it called."""

import ipaddress
import socket
from collections.abc import Callable
from typing import Any

import pytest


class CallOutside(RuntimeError):
    """A test tried to reach another machine."""


def is_inside(host: object) -> bool:
    """Tell whether a host is this machine itself."""
    if host in {None, "", b"", "localhost", b"localhost"}:
        return True
    try:
        return ipaddress.ip_address(str(host).split("%", maxsplit=1)[0]).is_loopback
    except ValueError:
        return False


def _refuse(host: object) -> None:
    if not is_inside(host):
        raise CallOutside(f"A test called {host!r}; no call may leave this machine.")


def _guarded(connect: Callable[..., Any]) -> Callable[..., Any]:
    def guarded(self: socket.socket, address: Any) -> Any:
        if self.family in {socket.AF_INET, socket.AF_INET6}:
            _refuse(address[0])
        return connect(self, address)

    return guarded


def guard(patch: pytest.MonkeyPatch) -> None:
    """Put the guard before connecting and before asking for an address by name."""
    look_up = socket.getaddrinfo

    def guarded_look_up(host: object, *rest: Any, **named: Any) -> Any:
        _refuse(host)
        return look_up(host, *rest, **named)  # type: ignore[arg-type]

    patch.setattr(socket.socket, "connect", _guarded(socket.socket.connect))
    patch.setattr(socket.socket, "connect_ex", _guarded(socket.socket.connect_ex))
    patch.setattr(socket, "getaddrinfo", guarded_look_up)
