"""Ask the system to end a process when the one that started it is gone."""

import ctypes
import os
import signal
import sys

_PARENT_DEATH = 1  # PR_SET_PDEATHSIG, prctl(2) of Linux


def die_with(parent: int, number: int = signal.SIGKILL) -> None:
    """Have this process get the signal when the process that started it ends.

    Elsewhere than on Linux nothing is done: there it ends at its next word to its parent.

    Parameters
    ----------
    parent : int
        The process that started this one; where it is gone already, this one ends here.
    number : int
        The signal.
    """
    if sys.platform != "linux":
        return
    ctypes.CDLL(None).prctl(_PARENT_DEATH, int(number))
    if os.getppid() != parent:  # it died before the request was made
        os._exit(1)


def main() -> None:
    """Become another program of the same Python, which is asked to stop when its parent is gone.

    Called as ``python -m registry.orphans PARENT ARGUMENTS``; what was asked of the system holds
    for the program that takes this one's place.
    """
    die_with(int(sys.argv[1]), signal.SIGTERM)
    os.execv(sys.executable, [sys.executable, *sys.argv[2:]])  # noqa: S606  # why: our own program


if __name__ == "__main__":
    main()
