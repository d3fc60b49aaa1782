import errno
import hashlib
import io
import os

import pytest

from archive.storage.quarantine import Quarantine, deposit_key
from registry.errors import Conflict, StoreFailed, TooLarge, Unseen, Unsound

CONTENT = b"nest,pebbles\n1,12\n"
KEY = deposit_key(41, 1)


@pytest.fixture
def quarantine(tmp_path):
    return Quarantine(tmp_path / "quarantine")


def partials(quarantine):
    return list(quarantine.incoming.iterdir())


@pytest.mark.parametrize("given", [[CONTENT[:5], b"", CONTENT[5:]], io.BytesIO(CONTENT)])
def test_an_upload_is_kept_with_its_size_and_digest(quarantine, given):
    kept = quarantine.keep(KEY, "pebbles.csv", given, limit=100)
    assert (kept.name, kept.bytes) == ("pebbles.csv", len(CONTENT))
    assert kept.sha256 == hashlib.sha256(CONTENT).hexdigest()
    assert kept.path.read_bytes() == CONTENT
    assert kept.path.stat().st_mode & 0o777 == 0o444
    assert quarantine.listing(KEY) == [kept]
    assert partials(quarantine) == []


def test_the_limit_is_held_while_the_bytes_come(quarantine):
    taken = []

    def endless():
        while True:
            taken.append(1)
            yield b"0" * 1000

    with pytest.raises(TooLarge) as refused:
        quarantine.keep(KEY, "big.csv", endless(), limit=5000)
    assert len(taken) == 6
    assert "5 kB" in refused.value.why
    assert quarantine.listing(KEY) == []
    assert partials(quarantine) == []
    assert quarantine.keep(KEY, "big.csv", [b"0" * 5000], limit=5000).bytes == 5000


def test_an_upload_that_breaks_off_leaves_nothing(quarantine):
    def broken():
        yield CONTENT
        raise ConnectionResetError

    with pytest.raises(ConnectionResetError):
        quarantine.keep(KEY, "pebbles.csv", broken(), limit=100)
    assert quarantine.listing(KEY) == []
    assert partials(quarantine) == []


def test_a_full_disk_is_named_and_leaves_nothing(quarantine, monkeypatch):
    def fail(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("archive.storage.quarantine.write_through", fail)
    with pytest.raises(StoreFailed) as refused:
        quarantine.keep(KEY, "pebbles.csv", [CONTENT], limit=100)
    assert refused.value.why == "The disk is full."
    assert partials(quarantine) == []


def test_nothing_is_written_over(quarantine):
    first = quarantine.keep(KEY, "pebbles.csv", [CONTENT], limit=100)
    assert quarantine.keep(KEY, "pebbles.csv", [CONTENT], limit=100) == first
    for name in ("pebbles.csv", "Pebbles.csv"):
        with pytest.raises(Conflict):
            quarantine.keep(KEY, name, [b"other"], limit=100)
    assert first.path.read_bytes() == CONTENT
    corrected = quarantine.keep(deposit_key(41, 2), "pebbles.csv", [b"other"], limit=100)
    assert corrected.path.read_bytes() == b"other"
    assert quarantine.listing(KEY) == [first]


def test_two_names_may_hold_the_same_bytes(quarantine):
    quarantine.keep(KEY, "a.csv", [CONTENT], limit=100)
    quarantine.keep(KEY, "b.csv", [CONTENT], limit=100)
    assert [kept.name for kept in quarantine.listing(KEY)] == ["a.csv", "b.csv"]
    laid = quarantine.lay_out(KEY)
    assert {path.name: path.read_bytes() for path in laid.iterdir()} == {
        "a.csv": CONTENT,
        "b.csv": CONTENT,
    }
    assert quarantine.lay_out(KEY) == laid


@pytest.mark.parametrize("name", ["../x.csv", ".hidden", "a b.csv", "con.csv", ""])
def test_an_unsound_name_is_refused_before_a_byte_is_read(quarantine, name):
    def never():
        raise AssertionError("it was read")
        yield b""

    with pytest.raises(Unsound):
        quarantine.keep(KEY, name, never(), limit=100)
    with pytest.raises(Unsound):
        quarantine.keep(f"../{KEY}", "a.csv", never(), limit=100)


def test_a_discarded_round_is_gone_and_the_others_stay(quarantine):
    quarantine.keep(KEY, "a.csv", [CONTENT], limit=100)
    (quarantine.workspace(KEY) / "report.json").write_text("{}")
    other = quarantine.keep(deposit_key(41, 2), "a.csv", [CONTENT], limit=100)
    quarantine.discard(KEY)
    quarantine.discard(KEY)
    assert quarantine.listing(KEY) == []
    assert not (quarantine.folder / KEY).exists()
    assert quarantine.listing(deposit_key(41, 2)) == [other]
    with pytest.raises(Unseen):
        quarantine.lay_out(KEY)


def test_a_sweep_takes_what_is_old_and_leaves_what_is_young(quarantine):
    quarantine.keep(KEY, "a.csv", [CONTENT], limit=100)
    (quarantine.incoming / "broken-off").write_bytes(b"x")
    assert quarantine.sweep(older_than_s=3600) == 0
    assert quarantine.sweep(older_than_s=0) == 1
    assert len(quarantine.listing(KEY)) == 1


def test_rounds_are_counted_from_one():
    assert deposit_key("abc", 3) == "abc.r3"
    with pytest.raises(ValueError, match="from 1"):
        deposit_key("abc", 0)
