"""The maker and the mender of copies are killed at each step: the next round heals what is left.

Each is killed (SIGKILL) just before the first step that `tests/archive/steps.py` names, and just
after every one, on one version.
"""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from archive.copies.examining import faults_of
from archive.copies.models import Copy
from archive.copies.rounds import SECOND, go_round, make_copy
from archive.places import second_store, store
from registry.ledger import proof
from tests.archive.steps import MENDING, REPLICATION, Step, When, killed_at
from tests.worlds.archive import make_version

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _disks_of_its_own(tmp_path: Path, settings: Any) -> None:
    settings.VAR, settings.STORE = tmp_path, tmp_path / "store"
    settings.SECOND_STORE = tmp_path / "elsewhere"


def between(steps: tuple[Step, ...]) -> list[tuple[Step, When]]:
    """Give each moment at which the power may fail: before the first step, and after each."""
    return [(steps[0], "before"), *((step, "after") for step in steps)]


def test_a_copy_whose_making_is_killed_is_absent_or_whole_and_is_made_by_the_next_round(
    tmp_path: Path,
) -> None:
    version = make_version()
    second = second_store()
    assert second is not None
    for step, when in between(REPLICATION):
        killed_at(step, when, lambda: make_copy(version.pk, SECOND), tmp_path / "told")
        for found in second.scrub():
            assert found.problems == (), (step, when)
        # A copy is noted only once it is whole.
        if Copy.objects.filter(place=SECOND).exists():
            assert (step, when) == (REPLICATION[-1], "after")
            assert faults_of(second, version) == []
        assert faults_of(store(), version) == []
        go_round(budget_s=60)
        assert faults_of(second, version) == []
        assert Copy.objects.filter(place=SECOND, state="whole").count() == 1
        second.sweep_staging(older_than_s=0)
        assert list(second.workbench.folder.iterdir()) == []
        # Back to where there is none, behind the ledger's back.
        second.erase(version.identifier)
        Copy.objects.filter(place=SECOND).delete()
    assert proof.check(with_subjects=False)[0] == []


def test_a_mending_that_is_killed_never_serves_what_is_damaged_and_is_ended_by_the_next_round(
    tmp_path: Path,
) -> None:
    version = make_version()
    go_round(budget_s=60)
    held = store()
    for step, when in between(MENDING):
        with held.local(version.identifier, "data/scans.csv") as path:
            content = bytearray(path.read_bytes())
            content[3] ^= 1
            path.chmod(0o644)
            path.write_bytes(content)
        killed_at(
            step,
            when,
            lambda: go_round(budget_s=60, every=timedelta(0)),
            tmp_path / "told",
        )
        version.refresh_from_db()
        assert version.is_damaged == (step not in {MENDING[0], MENDING[-1]})
        go_round(budget_s=60, every=timedelta(0))
        assert faults_of(held, version) == [], (step, when)
        assert not Copy.objects.damaged().exists(), (step, when)
    # Each damaged object was set aside once, and none is lost.
    assert len(held.set_aside_names()) == len(MENDING) + 1
    assert proof.check(with_subjects=True)[0] == []
