"""Make the demo, where it is not there yet, and serve it on a port."""

import argparse
import os
import socket
import subprocess
import sys
from pathlib import Path

MANAGE = [sys.executable, str(Path(__file__).resolve().parent.parent / "manage.py")]


def port_is_free(port: int) -> bool:
    """Tell whether a port of this machine can be listened on."""
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


def main() -> None:
    """Check the port before anything else, then migrate, make and serve."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--port", type=int, default=8000)
    port = parser.parse_args().port
    if not 0 < port < 65_536:
        sys.exit(f"strandline: {port} is no port; choose one from 1 to 65535: make demo PORT=8123")
    if not port_is_free(port):
        sys.exit(
            f"strandline: port {port} is taken or not yours to use; choose another one: "
            f"make demo PORT={8123 if port != 8123 else 8124}"
        )
    os.environ.setdefault("STRANDLINE_ADDRESS", f"http://localhost:{port}")
    for command in (["migrate", "--verbosity", "0"], ["make_demo"]):
        failed = subprocess.call([*MANAGE, *command])
        if failed:
            sys.exit(failed)
    sys.stdout.flush()
    os.execv(sys.executable, [*MANAGE, "serve", "--port", str(port)])


if __name__ == "__main__":
    main()
