"""The system's Chromium, driven by its path: nothing is downloaded, nothing is called outside."""

import os
import shutil
from typing import Any

import pytest

WANTED = (
    "no Chromium was found; install the system's package chromium, "
    "or set CHROMIUM to the program's path, and run this again."
)
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]


def chromium() -> str | None:
    """Give the path of Chromium: CHROMIUM's, or the first on PATH."""
    said = os.environ.get("CHROMIUM", "")
    return (
        shutil.which(said) if said else shutil.which("chromium") or shutil.which("chromium-browser")
    )


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Start Chromium from its path; a page's test then also touches the database beside a loop."""
    path = chromium()
    if path is None:
        pytest.fail(WANTED, pytrace=False)
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    return {**browser_type_launch_args, "executable_path": path, "args": ARGUMENTS}
