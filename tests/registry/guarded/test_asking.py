"""Files are looked through a few at a time, so that the other threads answer pages."""

import threading
from pathlib import Path

import pytest

from archive.engine.intake import propose
from registry.errors import Conflict, Unsound
from registry.guarded import asking
from tests.archive.engine.intake.making import PLAIN, laid, table


def test_who_comes_while_all_turns_are_taken_is_told_to_come_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = laid(tmp_path, "scans.csv", PLAIN.encode())
    monkeypatch.setattr(asking, "TURNS", threading.BoundedSemaphore(1))
    monkeypatch.setattr(asking, "WAIT_S", 0.01)
    with asking.TURNS, pytest.raises(Conflict) as caught:
        propose(path, "scans.csv", table())
    assert "try again" in caught.value.next
    # A turn is given back, also by a look that was refused.
    (tmp_path / "none.csv").write_bytes(b"")
    with pytest.raises(Unsound, match="headings"):
        propose(tmp_path / "none.csv", "none.csv", table())
    assert propose(path, "scans.csv", table()).is_canonical
