"""The check of a deposit: what it finds, how far it is, and that it is taken up again."""

import json
from contextlib import nullcontext
from datetime import timedelta
from typing import Any
from unittest import mock

import pytest
import time_machine
from django.db import OperationalError
from django.tasks import TaskResultStatus
from django.utils import timezone
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

from archive import acceptance, actions, tasks
from archive.engine.findings import Group
from archive.engine.gathering import count_of
from archive.facts import facts_of, planned_every_s
from archive.forms import Submit
from archive.models import Deposit
from archive.places import store
from archive.rounds import package_of, path_of, room_of
from registry.animals.actions import end_restriction
from registry.errors import StoreFailed
from registry.management.commands import serve
from registry.oversight.models import Breach
from registry.permissions import Role
from registry.projects.models import RecordingRule
from tests.worlds.animals import make_restriction
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import (
    check_here,
    descriptor,
    engine_check,
    make_checked,
    make_opened,
    make_submitted,
    put,
    rows,
    zipped,
)
from tests.worlds.oversight import make_enrolled, make_held_session
from tests.worlds.people import make_person
from tests.worlds.projects import make_procedure

pytestmark = pytest.mark.django_db


def fresh(deposit: Deposit) -> Deposit:
    return Deposit.objects.get(pk=deposit.pk)


def codes(deposit: Deposit) -> dict[str, int]:
    return {one["code"]: one["count"] for one in deposit.summary["counts"]}


# ------------------------------------------------------------------------------- what is found


def test_a_bare_table_is_checked_by_the_dictionary_and_a_fault_is_told_with_its_place() -> None:
    deposit = make_checked({"scans.csv": rows("1,R-01,2026-11-03,REST,deep", "2,,x,GONE,1")})
    assert (deposit.state, deposit.verdict) == ("checked", "invalid")
    found = deposit.summary["findings"]
    typed = [one for one in found["type-error"] if one["field"] == "depth"]
    assert (typed[0]["table"], typed[0]["row"], typed[0]["value"]) == ("scans", 2, "deep")
    assert typed[0]["remedy"]
    assert {"constraint-error", "category-error"} <= set(found)


def test_a_zip_with_its_own_descriptor_is_unpacked_and_checked() -> None:
    package = descriptor()
    package["resources"][0] |= {"path": "data/scans.csv", "type": "table"}
    files = {
        "ray-scans/datapackage.json": json.dumps(package).encode(),
        "ray-scans/data/scans.csv": rows(),
        "ray-scans/readme.txt": b"notes",
    }
    deposit = make_checked({"rays.zip": zipped(files)})
    assert deposit.verdict == "valid"
    assert codes(deposit)["unlisted-file"] == 1
    assert (package_of(deposit) / "ray-scans/data/scans.csv").read_bytes() == rows()


def test_files_sent_one_by_one_are_put_where_the_descriptor_looks_for_them() -> None:
    package = descriptor()
    package["resources"][0] |= {"path": "data/scans.csv", "type": "table"}
    files = {"datapackage.json": json.dumps(package).encode(), "scans.csv": rows()}
    assert make_checked(files).verdict == "valid"


def test_a_zip_that_is_not_sound_is_a_finding_and_the_upload_is_kept() -> None:
    deposit = make_checked({"rays.zip": zipped({"../evil.csv": b"a"})})
    assert deposit.verdict == "invalid"
    assert "leads out" in deposit.summary["findings"]["descriptor-unreadable"][0]["message"]
    again = actions.correct_deposit(deposit, by=deposit.maker)
    put(again, {"rays.zip": zipped({"scans.csv": rows()})})
    assert check_here(actions.submit_deposit(again, by=again.maker)).verdict == "valid"


def test_a_table_that_the_dictionary_does_not_name_is_told_in_words() -> None:
    deposit = make_checked({"scans.csv": rows(), "moods.csv": b"a\n1\n"})
    assert deposit.verdict == "invalid"
    assert (
        "belongs to no table" in deposit.summary["findings"]["descriptor-unreadable"][0]["message"]
    )


def test_the_register_opens_a_breach_for_each_thing_and_never_makes_a_deposit_invalid() -> None:
    world = make_collecting()
    enrolments = make_enrolled(world, 2)
    one, two = enrolments
    make_restriction(two.animal)
    today = timezone.localdate()
    early = today - timedelta(days=9)
    lines = [
        f"1,{one.code},{today},REST,1",
        f"2,{two.code},{today},REST,1",
        f"3,{two.code},{today},SWIM,1",
        f"4,R-99,{today},SWIM,1",
        f"5,{one.code},{early},SWIM,1",
    ]
    deposit = make_checked({"scans.csv": rows(*lines)}, project=world.project)
    assert deposit.verdict == "valid"
    assert count_of(deposit.summary, Group.REGISTER) == 5
    breaches = Breach.objects.filter(deposit_number=deposit.pk)
    found = set(breaches.values_list("code", "animal", "happened_on"))
    assert found == {
        ("under-restriction", two.animal_id, today),
        ("not-enrolled", one.animal_id, early),
        ("not-enrolled", None, None),
        ("outside-approval", None, early),
    }
    assert breaches.get(code="outside-approval").approval_id == world.approval.pk


def test_checking_again_opens_no_second_breach() -> None:
    deposit = make_checked()
    before = Breach.objects.count()
    assert before
    again = actions.correct_deposit(deposit, by=deposit.maker)
    checked = check_here(actions.submit_deposit(again, by=again.maker))
    assert (checked.round, checked.verdict) == (2, "valid")
    assert Breach.objects.count() == before


def test_rows_that_are_gone_since_the_last_round_are_listed() -> None:
    deposit = make_checked()
    again = actions.correct_deposit(deposit, by=deposit.maker)
    kept = rows().decode().splitlines()[:-1]
    put(again, {"scans.csv": ("\n".join(kept) + "\n").encode()})
    checked = check_here(actions.submit_deposit(again, by=again.maker))
    assert checked.verdict == "valid"
    gone = checked.summary["findings"]["rows-vanished"]
    assert [one["value"] for one in gone] == ["4"]


def test_facts_hold_what_the_register_knows() -> None:
    world = make_collecting()
    enrolments = make_enrolled(world, 2)
    session = make_held_session(world, enrolments, start=timezone.now())
    make_restriction(enrolments[0].animal)
    facts = facts_of(world.project)
    assert [one.code for one in facts.enrolments or ()] == [one.code for one in enrolments]
    assert [one.code for one in facts.restrictions or ()] == [enrolments[0].code]
    assert [one.code for one in facts.sessions or ()] == [session.code]
    assert facts.places == (world.place.code,)
    assert world.place.code in (facts.enclosures or ())
    run = (facts.approvals or ())[0]
    assert run.since == timezone.localdate()
    assert {one.role for one in facts.planned or ()} == {"animal", "unit", "session"}
    assert facts.observers == tuple(
        sorted({one.data_code for one in world.project.members.with_codes()})
    )
    numbers = [one.number for one in facts.versions or ()]
    assert numbers == sorted(world.project.study.dictionaries.values_list("number", flat=True))


def test_the_planned_interval_is_that_of_a_plan_with_scans() -> None:
    plan = make_collecting().project.plan
    plan.schedule = "One session a day, scans every 5 minutes."
    said = {}
    for rule in RecordingRule:
        plan.recording_rule = rule
        said[str(rule)] = planned_every_s(plan.project)
    assert said == {str(rule): None for rule in RecordingRule} | {
        "instantaneous": 300,
        "one_zero": 300,
    }


def test_observation_only_bars_nothing_of_a_project_that_only_watches() -> None:
    facts = {}
    for code in ("watching-outside", "netting"):
        world = make_collecting(procedure=make_procedure(code))
        enrolled = make_enrolled(world, 1)
        make_restriction(enrolled[0].animal, strength="observation_only")
        facts[code] = facts_of(world.project).restrictions
    assert facts["watching-outside"] == ()
    assert len(facts["netting"] or ()) == 1


def test_the_day_on_which_a_restriction_ended_is_free_again() -> None:
    world = make_collecting(days_ago=9)
    enrolled = make_enrolled(world, 1)
    today = timezone.localdate()
    restriction = make_restriction(enrolled[0].animal, began_on=today - timedelta(days=5))
    end_restriction(restriction, ended_on=today, reason="Healed.", by=make_person(Role.VET))
    until = [one.until for one in facts_of(world.project).restrictions or ()]
    assert until == [today - timedelta(days=1)]


# ------------------------------------------------------------------------------- the worker


@pytest.fixture
def queued(django_capture_on_commit_callbacks: Any) -> Deposit:
    """Give a deposit whose check waits in the queue."""
    deposit = put(make_opened(), {"scans.csv": rows()})
    form = Submit({}, subject=deposit, by=deposit.maker)
    assert form.is_valid()
    with django_capture_on_commit_callbacks(execute=True):
        form.act()
    assert DBTaskResult.objects.get().status == TaskResultStatus.READY
    return fresh(deposit)


def run_worker(*, has_child: bool = False) -> None:
    """Do what waits, as the worker does it, but for its hold on the connection."""
    worker = Worker(
        queue_names=["*"],
        interval=0,
        batch=True,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id="a worker",
        excluded_queue_names=[],
    )
    with nullcontext() if has_child else mock.patch.object(tasks, "check_in_child", engine_check):
        for waiting in DBTaskResult.objects.ready():
            waiting.claim("a worker")
            worker.run_task(waiting)


def test_a_submitted_deposit_is_checked_by_the_worker(queued: Deposit) -> None:
    run_worker(has_child=True)
    deposit = fresh(queued)
    assert (deposit.state, deposit.verdict, deposit.progress) == ("checked", "valid", 1.0)
    assert deposit.heartbeat_at is not None
    assert (room_of(deposit) / "report.json").is_file()
    assert DBTaskResult.objects.get().return_value == "valid"


def later(seconds: int) -> time_machine.travel:
    return time_machine.travel(timezone.now() + timedelta(seconds=seconds), tick=True)


@pytest.mark.parametrize("end", ["correct", "discard"])
def test_a_check_is_called_off_when_nobody_waits_for_it_any_more(
    end: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    deposit = make_submitted()
    went_on: list[float] = []

    def long_check(*_: Any, progress: Any, **__: Any) -> Any:
        progress(0.1)
        if end == "correct":
            actions.correct_deposit(deposit, by=deposit.maker)
        else:
            actions.discard_deposit(deposit, reason="the wrong file", by=deposit.maker)
        progress(0.2)
        went_on.append(0.2)

    monkeypatch.setattr(tasks, "check_in_child", long_check)
    monkeypatch.setattr(tasks, "TELL_S", 0)
    after = tasks.check(deposit)
    assert went_on == []
    assert (after.state, after.round) == (("opened", 2) if end == "correct" else ("discarded", 1))
    assert (after.progress, after.verdict) == (0.1, "")
    assert not Breach.objects.exists()


def test_a_queued_check_is_not_queued_twice(queued: Deposit) -> None:
    with later(300):
        assert tasks.take_up_again() == 0
    assert DBTaskResult.objects.count() == 1


def test_a_check_that_was_never_queued_is_queued_after_a_minute() -> None:
    make_submitted()
    assert tasks.take_up_again() == 0
    with later(61):
        assert tasks.take_up_again() == 1
        assert tasks.take_up_again() == 0


def test_a_killed_worker_leaves_the_upload_whole_and_the_check_is_taken_up_once(
    queued: Deposit,
) -> None:
    # As a kill leaves it: the task claimed, a heartbeat, the package half laid out, no end.
    task = DBTaskResult.objects.get()
    task.claim("a worker that dies")
    package_of(queued).mkdir(parents=True, exist_ok=True)
    (package_of(queued) / "half.csv").write_text("scan,ra")
    tasks._tell(queued, progress=0.4)
    with later(30):
        assert tasks.take_up_again() == 0
    with later(61):
        assert tasks.take_up_again() == 1
        assert tasks.take_up_again() == 0
    task.refresh_from_db()
    assert task.status == TaskResultStatus.FAILED
    run_worker()
    deposit = fresh(queued)
    assert (deposit.state, deposit.verdict) == ("checked", "valid")
    assert not (package_of(deposit) / "half.csv").exists()
    assert deposit.files.count() == 1
    with later(600):
        assert tasks.take_up_again() == 0


def test_a_check_that_breaks_off_each_time_hands_the_deposit_back(
    queued: Deposit, monkeypatch: pytest.MonkeyPatch
) -> None:
    def break_off(*_: object) -> None:
        raise OSError("the disk is gone")

    monkeypatch.setattr(tasks, "lay_out", break_off)
    for round_number in range(1, 4):
        run_worker()
        with later(61 * round_number):
            assert tasks.take_up_again() == (1 if round_number < 3 else 0)
    monkeypatch.undo()
    deposit = fresh(queued)
    assert (deposit.state, deposit.verdict) == ("checked", "not checked")
    assert "the disk is gone" in deposit.summary["findings"]["not-checked"][0]["message"]
    again = actions.correct_deposit(deposit, by=deposit.maker)
    checked = check_here(actions.submit_deposit(again, by=again.maker))
    assert checked.verdict == "valid"


def test_a_deposit_is_handed_back_also_where_its_own_disk_takes_nothing(
    queued: Deposit, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreFailed("The upload could not be unpacked.", "The disk is full.", "Tell someone.")

    monkeypatch.setattr(tasks, "room_of", full)
    for round_number in range(1, 4):
        run_worker()
        with later(61 * round_number):
            assert tasks.take_up_again() == (1 if round_number < 3 else 0)
    deposit = fresh(queued)
    assert (deposit.state, deposit.verdict) == ("checked", "not checked")
    assert "The disk is full" in deposit.summary["findings"]["not-checked"][0]["message"]


def test_a_full_disk_is_no_fault_of_the_package(
    queued: Deposit, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreFailed("The upload could not be unpacked.", "The disk is full.", "Tell someone.")

    monkeypatch.setattr(tasks, "lay_out", full)
    run_worker()
    assert fresh(queued).state == "submitted"
    monkeypatch.undo()
    with later(61):
        assert tasks.take_up_again() == 1
    run_worker()
    assert fresh(queued).verdict == "valid"


@pytest.mark.parametrize("fault", [OSError("full"), OperationalError("locked")])
def test_the_site_goes_on_where_broken_off_checks_cannot_be_looked_after(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, fault: Exception
) -> None:
    def fail() -> int:
        raise fault

    monkeypatch.setattr(serve.tasks, "take_up_again", fail)
    serve.Command._take_up_again()
    assert "tried again" in caplog.text


def test_bytes_that_changed_on_the_disk_are_never_judged_as_those_that_were_sent(
    queued: Deposit,
) -> None:
    kept = path_of(queued.files.get())
    sent = kept.read_bytes()
    kept.chmod(0o644)
    kept.write_bytes(sent.replace(b"REST", b"SWIM"))
    with pytest.raises(StoreFailed, match="another"):
        check_here(queued)
    assert fresh(queued).state == "submitted"
    kept.write_bytes(sent)
    assert check_here(queued).verdict == "valid"


def test_a_check_of_a_round_that_is_over_changes_nothing(queued: Deposit) -> None:
    actions.discard_deposit(queued, reason="the wrong file", by=queued.maker)
    run_worker()
    assert fresh(queued).state == "discarded"
    assert tasks.check_deposit.call(queued.pk, 7) == "another round was begun"


def test_a_check_over_its_time_is_not_checked_and_says_so(settings: Any) -> None:
    settings.CHECK_SECONDS = 1
    lines = rows(*(f"{n},R-01,,REST,1" for n in range(200_000)))
    deposit = tasks.check(make_submitted({"scans.csv": lines}))
    assert deposit.verdict == "not checked"
    assert "stopped" in deposit.summary["reason"]


def test_an_orphan_of_a_broken_acceptance_gives_way(monkeypatch: pytest.MonkeyPatch) -> None:
    deposit = make_checked()
    lead = deposit.dataset.project.members.get(part="lead").person

    def die(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(tasks.actions, "accept_deposit", die)
    terms: dict[str, Any] = {"access": "open", "by": lead}
    with pytest.raises(KeyboardInterrupt):
        acceptance.accept(deposit, licence="CC0-1.0", **terms)
    orphan = f"{deposit.dataset.identifier}.v1.0.0"
    assert orphan in set(store().object_ids())
    assert fresh(deposit).state == "checked"
    monkeypatch.undo()
    version = acceptance.accept(deposit, licence="CC-BY-4.0", **terms)
    assert version.identifier == orphan
    with store().open_file(orphan, "LICENSE") as opened:
        assert b"CC-BY-4.0" in opened.read()
