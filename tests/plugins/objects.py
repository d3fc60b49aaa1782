"""A real object store that speaks S3, started for the tests that ask for it."""

import os
import shutil
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from importlib import import_module, util
from pathlib import Path

import pytest

from archive.storage.address import BucketAddress
from tests.plugins.postgres import die_with

KEY_ID, SECRET = "test:tester", "testing"
SERVER = Path(__file__).with_name("object_server.py")


@dataclass
class ObjectServer:
    """A server, which a test may stop."""

    endpoint: str
    running: "subprocess.Popen[str]"

    def new_bucket(self, prefix: str = "site/store") -> BucketAddress:
        """Make a bucket of one's own, and give its address."""
        name = f"b{uuid.uuid4().hex[:16]}"
        address = BucketAddress(name, prefix, self.endpoint, "", KEY_ID, SECRET)
        # What speaks to an object store is loaded by the tests that need one.
        bucket = import_module("archive.storage.bucket").Bucket(address)
        bucket.client.create_bucket(Bucket=name)
        return address

    def stop(self) -> None:
        """Stop it for good."""
        self.running.kill()
        self.running.communicate()


def start(home: Path) -> ObjectServer:
    """Start a server whose files lie in a folder."""
    running = subprocess.Popen(
        [sys.executable, "-W", "ignore", str(SERVER), str(home)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={"PATH": "/usr/bin:/bin", "HOME": str(home)},
        preexec_fn=partial(die_with, os.getpid()),  # noqa: PLW1509  # it starts no thread before
    )
    assert running.stdout is not None
    endpoint = running.stdout.readline().strip()
    assert endpoint.startswith("http://"), f"the object store did not start: {endpoint!r}"
    return ObjectServer(endpoint, running)


@pytest.fixture(scope="session")
def object_server() -> Iterator[ObjectServer]:
    """Give a real object store: swift's own servers with their S3 interface."""
    if util.find_spec("swift") is None:
        pytest.skip("swift is not installed: it runs on Linux alone")
    home = Path(tempfile.mkdtemp(prefix="strandline-objects-"))
    server = start(home)
    yield server
    server.stop()
    shutil.rmtree(home, ignore_errors=True)
