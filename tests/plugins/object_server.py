"""A whole object store that speaks S3, in one process and on loopback alone: its four servers.

Run as a program: `object_server.py FOLDER`. Its first line says where it listens. The servers are
those of the package swift as they are; only what keeps short-lived facts between machines is a
dictionary here, since there is one machine.
"""

import sys

import eventlet

eventlet.monkey_patch()

import logging  # noqa: E402  # the sockets must be patched before anything imports them
import os  # noqa: E402
from configparser import ConfigParser  # noqa: E402
from pathlib import Path  # noqa: E402
from typing import Any  # noqa: E402

from eventlet import wsgi  # noqa: E402
from paste.deploy import loadapp  # noqa: E402
from swift.account.server import AccountController  # noqa: E402
from swift.common import storage_policy, utils  # noqa: E402
from swift.common.ring import RingBuilder  # noqa: E402
from swift.container.server import ContainerController  # noqa: E402
from swift.obj.server import ObjectController  # noqa: E402

# What a test puts there need not outlive a power cut.
os.fsync = os.fdatasync = lambda _: None

STORAGE = {
    "account": AccountController,
    "container": ContainerController,
    "object": ObjectController,
}
SITE = """
[swift-hash]
swift_hash_path_prefix = tests
swift_hash_path_suffix = tests
[storage-policy:0]
name = one
default = yes
"""
PROXY = """
[DEFAULT]
swift_dir = {home}
log_level = ERROR
[pipeline:main]
pipeline = {filters} proxy-server
[app:proxy-server]
use = egg:swift#proxy
account_autocreate = true
"""
FILTERS = "catch_errors gatekeeper listing_formats bulk s3api tempauth slo container_quotas"


class Facts:
    """What would be kept between machines for a while."""

    def __init__(self) -> None:
        self.held: dict[str, Any] = {}

    def get(self, key: str, **_: Any) -> Any:
        return self.held.get(key)

    def set(self, key: str, value: Any, **_: Any) -> None:
        self.held[key] = value

    def delete(self, key: str, **_: Any) -> None:
        self.held.pop(key, None)

    def incr(self, key: str, delta: int = 1, **_: Any) -> int:
        self.held[key] = self.held.get(key, 0) + delta
        return int(self.held[key])


def lay(home: Path, ports: dict[str, int]) -> None:
    """Write what the servers read: their names, and who keeps what."""
    said = ConfigParser()
    said.read_string(SITE)
    (home / "swift.conf").write_text(SITE, encoding="ascii")
    utils.SWIFT_CONF_FILE = str(home / "swift.conf")
    utils.HASH_PATH_PREFIX = utils.HASH_PATH_SUFFIX = b"tests"
    storage_policy._POLICIES = storage_policy.parse_storage_policies(said)
    (home / "devices" / "one").mkdir(parents=True)
    for kind, port in ports.items():
        ring = RingBuilder(1, 1, 0)
        place = {"ip": "127.0.0.1", "port": port}
        again = {"replication_ip": "127.0.0.1", "replication_port": port}
        ring.add_dev(
            {"id": 0, "region": 1, "zone": 1, "weight": 1.0, "device": "one", **place, **again}
        )
        ring.rebalance()
        ring.get_ring().save(str(home / f"{kind}.ring.gz"))
    named = [f"[filter:{name}]\nuse = egg:swift#{name}\n" for name in FILTERS.split()]
    named[FILTERS.split().index("tempauth")] += "user_test_tester = testing .admin\n"
    told = PROXY.format(home=home, filters=FILTERS) + "".join(named)
    (home / "proxy.conf").write_text(told, encoding="ascii")


def serve(home: Path) -> None:
    """Serve until the process ends."""
    quiet = logging.getLogger("quiet")
    sockets = {kind: eventlet.listen(("127.0.0.1", 0)) for kind in STORAGE}
    lay(home, {kind: listening.getsockname()[1] for kind, listening in sockets.items()})
    options = {
        "devices": str(home / "devices"),
        "swift_dir": str(home),
        "mount_check": "false",
        "log_level": "ERROR",
    }
    for kind, make in STORAGE.items():
        eventlet.spawn(wsgi.server, sockets[kind], make(options), quiet, log_output=False)
    proxy = loadapp(f"config:{home}/proxy.conf", name="main")
    facts = Facts()

    def front(around: dict[str, Any], begin: Any) -> Any:
        around["swift.cache"] = facts
        return proxy(around, begin)

    asked = eventlet.listen(("127.0.0.1", 0))
    print(f"http://127.0.0.1:{asked.getsockname()[1]}", flush=True)
    wsgi.server(asked, front, quiet, log_output=False)


if __name__ == "__main__":
    serve(Path(sys.argv[1]).resolve())
