#!/usr/bin/env python3
"""Bring .venv into step with a lock, then run one of the project's scripts in it.

    python3 .ci/bootstrap.py run|dev [SCRIPT ARGUMENT...]

`run` installs what runs the site (requirements.txt), `dev` what tests it (requirements-dev.txt,
which holds the other one too). Starts on any Python from 3.8 on, with nothing but its own library.
"""

import fcntl
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Dict, Iterator, List, Optional, Tuple

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
HOME = Path(os.environ.get("HOME") or "/nonexistent")
PYTHON = VENV / "bin" / "python"
STAMP = VENV / "installed-locks.json"
LOCKS = {"run": ("requirements.txt",), "dev": ("requirements-dev.txt", "requirements.txt")}
OLDEST, NEWEST = (3, 12), (3, 14)  # the versions that every locked package has a build for
PROBE = (
    "import sys\n"
    "try:\n    import ensurepip, venv\n    whole = 1\n"
    "except ImportError:\n    whole = 0\n"
    "print(sys.version_info[0], sys.version_info[1], whole)"
)


def stop(sentence: str) -> None:
    """Say one line and give up."""
    print(f"strandline: {sentence}", file=sys.stderr)
    sys.exit(1)


def say(sentence: str) -> None:
    """Say one line of progress."""
    print(f"strandline: {sentence}", file=sys.stderr, flush=True)


def quiet(
    command: List[str], seconds: float = 120, around: Optional[Dict[str, str]] = None
) -> "Optional[subprocess.CompletedProcess[str]]":
    """Run a command that may not be there, and keep what it prints."""
    try:
        return subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=seconds,
            env=around,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None


def probe(path: str) -> Optional[Tuple[Tuple[int, int], bool]]:
    """Give an interpreter's version and whether it can make environments, by running it."""
    answer = quiet([path, "-c", PROBE])
    if answer is None or answer.returncode:
        return None
    try:
        major, minor, whole = (int(word) for word in answer.stdout.split())
    except ValueError:
        return None
    return (major, minor), bool(whole)


def candidates() -> Iterator[str]:
    """Give every place where a fit interpreter may stand, the likeliest first."""
    names = [f"python3.{minor}" for minor in range(NEWEST[1], OLDEST[1] - 1, -1)]
    for name in names:
        found = shutil.which(name)
        if found:
            yield found
    # A shim answers only for the version that is chosen; the versions themselves stand beside it.
    homes = [os.environ.get("PYENV_ROOT", ""), str(HOME / ".pyenv")]
    homes += [
        str(Path(folder).parent)
        for folder in os.environ.get("PATH", "").split(os.pathsep)
        if Path(folder).name == "shims"
    ]
    folders = [f"{home}/versions/*/bin" for home in homes if home]
    folders += [f"{HOME}/.local/share/uv/python/*/bin", "/opt/python/*/bin"]
    folders += ["/usr/local/bin", "/opt/homebrew/bin"]
    for name in names:
        for folder in folders:
            yield from sorted(map(str, Path("/").glob(f"{folder}/{name}".lstrip("/"))))
    uv = shutil.which("uv")
    if uv:
        wanted = f">={OLDEST[0]}.{OLDEST[1]},<{NEWEST[0]}.{NEWEST[1] + 1}"
        answer = quiet([uv, "python", "find", "--offline", wanted])
        if answer is not None and answer.returncode == 0:
            yield answer.stdout.strip()
    yield sys.executable
    yield from filter(None, (shutil.which("python3"), shutil.which("python")))


def interpreter() -> str:
    """Give a fit interpreter that can make an environment, or say what to do."""
    halves: List[str] = []
    seen = set()
    for path in candidates():
        if path in seen:
            continue
        seen.add(path)
        told = probe(path)
        if told is None or not OLDEST <= told[0] <= NEWEST:
            continue
        if told[1]:
            return path
        halves.append(f"{path} (python{told[0][0]}.{told[0][1]}-venv)")
    if halves:
        stop(
            f"{halves[0].split(' ')[0]} is new enough but lacks ensurepip or venv; install the "
            f"system's package {halves[0].split('(')[1][:-1]} and run this again."
        )
    stop(
        f"no Python from {OLDEST[0]}.{OLDEST[1]} to {NEWEST[0]}.{NEWEST[1]} was found on PATH, "
        "under pyenv or under uv; install one (for example python3.13) and run this again."
    )
    raise AssertionError


def make_venv() -> None:
    """Make .venv where there is none, or where its interpreter is gone or unfit."""
    told = probe(str(PYTHON)) if PYTHON.exists() else None
    if told is not None and OLDEST <= told[0] <= NEWEST:
        return
    if VENV.exists() and not (VENV / "pyvenv.cfg").exists() and any(VENV.iterdir()):
        stop(".venv is there but is no Python environment; move it away and run this again.")
    chosen = interpreter()
    say(f"making .venv with {chosen}")
    shutil.rmtree(str(VENV), ignore_errors=True)
    made = quiet([chosen, "-m", "venv", str(VENV)])
    if made is None or made.returncode:
        shutil.rmtree(str(VENV), ignore_errors=True)
        last = (made.stdout.strip().splitlines() or ["no answer"])[-1] if made else "no answer"
        stop(f"{chosen} could not make .venv: {last}")


def digests(kind: str) -> Dict[str, str]:
    """Give the digest of each lock that this kind installs."""
    return {name: hashlib.sha256((ROOT / name).read_bytes()).hexdigest() for name in LOCKS[kind]}


def stamped() -> Dict[str, str]:
    """Give the digests of the locks that are installed already."""
    try:
        kept = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return kept if isinstance(kept, dict) else {}


def pinned_uv() -> str:
    """Give the lock's own entry for the installer, with its hashes."""
    lock = (ROOT / "requirements-dev.txt").read_text(encoding="utf-8")
    entry = re.search(r"^uv==(?:.*\\\n)+.*$", lock, re.MULTILINE)
    return entry.group(0) if entry else ""


def installer() -> Optional[str]:
    """Give uv: the environment's own, the machine's, or the locked one fetched by pip."""
    own = VENV / "bin" / "uv"
    for path in (str(own), shutil.which("uv")):
        answer = quiet([path, "--version"]) if path else None
        if path and answer is not None and answer.returncode == 0:
            return path
    entry = pinned_uv()
    if not entry:
        return None
    with tempfile.NamedTemporaryFile("w", suffix=".txt") as only:
        only.write(entry + "\n")
        only.flush()
        answer = quiet([*pip(), "--quiet", "--only-binary", ":all:", "-r", only.name])
    return str(own) if answer is not None and answer.returncode == 0 else None


def pip() -> List[str]:
    """Give pip's command, as far as the lock's name."""
    return [
        str(PYTHON), "-m", "pip", "install", "--require-hashes", "--disable-pip-version-check",
        "--no-input",
    ]  # fmt: skip


def install(kind: str) -> None:
    """Install a lock, by uv where it can be had and by pip otherwise; nothing else is removed."""
    lock = str(ROOT / LOCKS[kind][0])
    say(f"installing {LOCKS[kind][0]} into .venv")
    surroundings = {
        **os.environ,
        "VIRTUAL_ENV": str(VENV),
        "UV_PYTHON_DOWNLOADS": "never",
        "UV_SYSTEM_CERTS": "true",  # a network with an authority of its own is believed too
    }
    if not os.access(str(HOME), os.W_OK):
        surroundings["UV_CACHE_DIR"] = str(VENV / "cache")
    uv = installer()
    done = False
    if uv:
        command = [uv, "pip", "install", "--require-hashes", "--python", str(PYTHON), "-r", lock]
        answer = quiet(command, seconds=1800, around=surroundings)
        done = answer is not None and answer.returncode == 0
        if not done:
            said = answer.stdout.strip().splitlines() if answer is not None else []
            say(f"uv did not manage it ({' '.join(said[:1])}); trying pip, which is slower")
    if not done:
        done = subprocess.call([*pip(), "-qq", "-r", lock], env=surroundings) == 0
    if not done:
        stop(
            f"{LOCKS[kind][0]} could not be installed (see above); check the way to the package "
            "index, or point pip at a mirror, and run this again."
        )
    STAMP.write_text(json.dumps({**stamped(), **digests(kind)}), encoding="utf-8")


def main() -> None:
    """Make, install, and hand over to the script."""
    if len(sys.argv) < 2 or sys.argv[1] not in LOCKS:
        stop("use: python3 .ci/bootstrap.py run|dev [SCRIPT ARGUMENT...]")
    kind, rest = sys.argv[1], sys.argv[2:]
    began = time.monotonic()
    with Path(__file__).open("rb") as turn:
        fcntl.flock(turn, fcntl.LOCK_EX)  # two targets at once take turns
        make_venv()
        kept = stamped()
        if any(kept.get(name) != digest for name, digest in digests(kind).items()):
            install(kind)
    if rest:
        os.environ["STRANDLINE_INSTALL_SECONDS"] = f"{time.monotonic() - began:.1f}"
        os.chdir(str(ROOT))
        os.execv(str(PYTHON), [str(PYTHON), *rest])


if __name__ == "__main__":
    main()
