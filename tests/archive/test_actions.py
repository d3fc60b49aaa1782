"""Deeds of the archive, and each refusal that they name."""

from datetime import timedelta
from threading import Thread
from typing import Any

import pytest
from django.db import IntegrityError, connection
from django.utils import timezone

from archive import actions
from archive.acceptance import accept, erase
from archive.models import Dataset, Deposit, Dictionary, Version
from archive.places import check_limits, quarantine, store
from archive.rounds import path_of, take_in
from archive.sealing import Sealed
from archive.storage.quarantine import Kept
from archive.terms import months_on
from registry.errors import Conflict, NotPermitted, TooLarge, Unseen, Unsound
from registry.ledger.models import Entry
from registry.people.models import Person, the_clock
from registry.permissions import Part, Role
from registry.projects.actions import assign_member
from registry.projects.models import Project
from tests.worlds.approvals import make_collecting, make_ready
from tests.worlds.archive import (
    descriptor,
    make_checked,
    make_dictionary,
    make_opened,
    make_submitted,
    make_version,
    put,
    rows,
    zipped,
)
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, make_study, student_of

pytestmark = pytest.mark.django_db
OPEN: dict[str, Any] = {"licence": "CC-BY-4.0", "access": "open"}


def fresh(deposit: Deposit) -> Deposit:
    return Deposit.objects.get(pk=deposit.pk)


def kept_file(deposit: Deposit, name: str, content: bytes = b"a\n1\n") -> Kept:
    return take_in(deposit, name, [content])


# ------------------------------------------------------------------------------------ dictionaries


def field_ids(dictionary: Dictionary) -> dict[str, str]:
    fields = dictionary.descriptor["resources"][0]["schema"]["fields"]
    return {field["name"]: field["x:fieldId"] for field in fields}


def test_a_dictionary_gives_each_field_an_id_that_a_rename_keeps() -> None:
    study = make_study()
    first = make_dictionary(study)
    ids = field_ids(first)
    assert len(set(ids.values())) == 5
    changed = descriptor()
    fields = changed["resources"][0]["schema"]["fields"]
    fields[4] |= {"name": "depth_m", "x:fieldId": ids["depth"]}
    fields.append({"name": "light", "type": "number"})
    second = make_dictionary(study, resources=changed["resources"])
    assert second.number == 2
    after = field_ids(second)
    assert after["depth_m"] == ids["depth"]
    assert {name: after[name] for name in ("scan", "ray")} == {
        name: ids[name] for name in ("scan", "ray")
    }
    assert after["light"] not in ids.values()
    codes = second.descriptor["resources"][0]["schema"]["fields"][3]
    assert codes["categories"] == ["REST", "SWIM"]
    assert {entry["validFrom"] for entry in codes["x:ethogram"]} == {1}


def test_a_code_of_behaviour_is_valid_from_the_version_that_gave_it_its_meaning() -> None:
    study = make_study()
    make_dictionary(study)
    second = descriptor()
    codes = second["resources"][0]["schema"]["fields"][3]["x:ethogram"]
    codes[0] |= {"definition": "disc on the ground no movement, but of the spiracles"}
    codes[1] |= {"definition": "Off the ground, the disc moving, for a second or longer."}
    codes.append({"code": "FEED", "name": "feeding", "kind": "event", "definition": "Mouth shut."})
    made = make_dictionary(study, resources=second["resources"]).descriptor
    ethogram = made["resources"][0]["schema"]["fields"][3]["x:ethogram"]
    assert [(one["code"], one["validFrom"]) for one in ethogram] == [
        ("REST", 1),
        ("SWIM", 2),
        ("FEED", 2),
    ]
    codes[2] |= {"validFrom": 9}
    with pytest.raises(Unsound, match="a version from 1 to 3"):
        make_dictionary(study, resources=second["resources"])


def test_a_permanent_id_is_neither_changed_nor_used_for_another_meaning() -> None:
    study = make_study()
    ids = field_ids(make_dictionary(study))

    def publish(at: int, **change: Any) -> Dictionary:
        changed = descriptor()
        changed["resources"][0]["schema"]["fields"][at] |= change
        return make_dictionary(study, resources=changed["resources"])

    with pytest.raises(Unsound, match="permanent"):
        publish(4, **{"x:fieldId": "another"})
    with pytest.raises(Unsound, match="another meaning"):
        publish(4, **{"x:unit": "cm"})
    with pytest.raises(Unsound, match="another meaning"):
        publish(4, name="warmth", **{"x:fieldId": ids["depth"], "type": "date"})
    twice = descriptor()
    for at in (1, 2):
        twice["resources"][0]["schema"]["fields"][at]["x:fieldId"] = "one"
    with pytest.raises(Unsound, match="stands at two fields"):
        make_dictionary(make_study(), resources=twice["resources"])
    assert publish(4, title="Depth of the ray").number == 2


@pytest.mark.parametrize(
    ("at", "change", "complaint"),
    [
        (4, {"type": "decimal"}, "types are"),
        (4, {"x:unit": "degC"}, "write Cel"),
        (4, {"x:unit": "mm of water"}, "no UCUM code"),
        (4, {"x:role": "depth"}, "roles are"),
        (4, {"constraints": {"minimun": 0}}, "minimun"),
        (4, {"constraints": {"minimum": "deep"}}, "no number"),
        (4, {"x:plausible": [0, 9]}, "nothing else"),
        (4, {"x:plausible": {"minimum": 0, "maximum": "deep", "reason": "r"}}, "is a number"),
        (4, {"x:plausible": {"minimum": 9, "maximum": 0, "reason": "r"}}, "below its beginning"),
        (4, {"x:plausible": {"maximum": 9}}, "needs a reason"),
        (3, {"x:plausible": {"maximum": 9, "reason": "r"}}, "must be integer, number or year"),
        (3, {"categories": ["REST"]}, "not the codes of its ethogram"),
        (3, {"x:ethogram": [{"code": "REST", "name": "r", "kind": "habit"}]}, "state"),
        (1, {"name": "scan"}, "Two fields"),
    ],
)
def test_an_unsound_dictionary_is_refused_with_words(
    at: int, change: dict[str, Any], complaint: str
) -> None:
    study = make_study()
    changed = descriptor()
    changed["resources"][0]["schema"]["fields"][at] |= change
    with pytest.raises(Unsound, match=complaint):
        make_dictionary(study, resources=changed["resources"])
    assert not study.dictionaries.exists()
    assert make_dictionary(study).number == 1


@pytest.mark.parametrize(
    "change",
    [
        {"primaryKey": 5},
        {"primaryKey": [{"a": 1}]},
        {"foreignKeys": 5},
        {"foreignKeys": [{"fields": 5, "reference": {"resource": "", "fields": "scan"}}]},
        {"foreignKeys": [{"fields": [{}], "reference": {"resource": "", "fields": ["scan"]}}]},
        {"fields": [None, {"name": 5}]},
        {"fields": [{"name": "scan", "type": ["integer"]}]},
        {"fields": [{"name": "scan", "type": {"a": 1}, "constraints": "x"}]},
    ],
)
def test_a_dictionary_of_the_wrong_shape_is_refused_and_never_a_crash(
    change: dict[str, Any],
) -> None:
    study = make_study()
    changed = descriptor()
    changed["resources"][0]["schema"] |= change
    with pytest.raises(Unsound, match="was not published"):
        make_dictionary(study, resources=changed["resources"])
    assert not study.dictionaries.exists()


def test_a_dictionary_that_says_nothing_new_is_refused() -> None:
    study = make_study()
    first = make_dictionary(study)
    with pytest.raises(Conflict, match="same as version 1"):
        make_dictionary(study, resources=first.descriptor["resources"])


def test_a_student_publishes_no_dictionary_and_the_lead_does() -> None:
    project = make_collecting().project
    student = student_of(project)
    with pytest.raises(NotPermitted):
        make_dictionary(project.study, by=student)
    assert make_dictionary(project.study, by=lead_of(project)).number == 1


# ---------------------------------------------------------------------------------------- deposits


def test_the_first_deposit_gives_the_dataset_its_identifier_and_the_next_one_keeps_it() -> None:
    first = make_opened()
    project = first.dataset.project
    second = make_opened(project)
    assert first.dataset == second.dataset
    assert first.dataset.identifier.startswith("ark:99999/s1")
    assert Dataset.objects.count() == 1


def test_no_deposit_is_opened_before_collecting_nor_with_a_strange_dictionary() -> None:
    ready = make_ready()
    with pytest.raises(Conflict, match="only when it is"):
        actions.open_deposit(ready.project, by=ready.student)
    world = make_collecting()
    strange = make_dictionary(make_study())
    with pytest.raises(Unsound, match="another study"):
        actions.open_deposit(world.project, dictionary=strange, by=world.student)
    with pytest.raises(NotPermitted):
        actions.open_deposit(world.project, by=make_person(Role.STUDENT))
    assert actions.open_deposit(world.project, by=world.student).state == "opened"


def test_a_file_of_the_same_name_takes_the_place_of_the_one_before_and_both_are_kept() -> None:
    deposit = put(make_opened(), {"scans.csv": b"old"})
    put(deposit, {"scans.csv": b"new"})
    old, new = deposit.files.order_by("pk")
    assert (old.is_dropped, new.is_dropped) == (True, False)
    assert (path_of(old).read_bytes(), path_of(new).read_bytes()) == (b"old", b"new")


def test_names_that_differ_only_in_capitals_are_refused() -> None:
    deposit = put(make_opened(), {"scans.csv": b"a"})
    with pytest.raises(Unsound, match="only in capitals"):
        put(deposit, {"Scans.csv": b"b"})
    put(deposit, {"others.csv": b"b"})
    assert deposit.files.count() == 2


def test_a_package_of_too_many_files_or_bytes_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    deposit = put(make_opened(), {"a.csv": b"123"})
    small = check_limits()
    for limits, said in (
        ({"package_files": 1}, "1 files at most"),
        ({"package_bytes": 5}, "larger than 5 bytes"),
    ):
        held = type(small).from_dict(small.as_dict() | limits)
        monkeypatch.setattr(actions.holding, "check_limits", lambda held=held: held)
        with pytest.raises(TooLarge, match=said):
            actions.add_files(deposit, kept=[kept_file(deposit, "b.csv")], by=deposit.maker)
    monkeypatch.undo()
    actions.add_files(deposit, kept=[kept_file(deposit, "b.csv")], by=deposit.maker)


def test_a_file_is_dropped_once_and_its_bytes_stay() -> None:
    deposit = put(make_opened(), {"a.csv": b"123"})
    file = deposit.files.get()
    actions.drop_file(deposit, file=file, by=deposit.maker)
    with pytest.raises(Conflict, match="does not hold it"):
        actions.drop_file(deposit, file=file, by=deposit.maker)
    assert path_of(file).read_bytes() == b"123"


def test_a_deposit_is_submitted_only_when_it_is_clear_what_counts() -> None:
    deposit = make_opened()
    student = deposit.maker
    with pytest.raises(Unsound, match="no file"):
        actions.submit_deposit(deposit, by=student)
    put(deposit, {"all.zip": zipped({"scans.csv": rows()}), "more.csv": b"a"})
    with pytest.raises(Unsound, match="stands beside other files"):
        actions.submit_deposit(deposit, by=student)
    actions.drop_file(deposit, file=deposit.files.get(name="more.csv"), by=student)
    assert actions.submit_deposit(deposit, by=student).state == "submitted"
    bare = actions.open_deposit(deposit.dataset.project, by=student)
    put(bare, {"scans.csv": rows()})
    with pytest.raises(Unsound, match="no dictionary was chosen"):
        actions.submit_deposit(bare, by=student)


def test_only_the_clock_records_a_check_and_only_of_the_round_that_is_on() -> None:
    deposit = make_submitted()
    told: dict[str, Any] = {"verdict": "valid", "summary": {}}
    with pytest.raises(NotPermitted):
        actions.record_check(deposit, round_number=1, **told, by=deposit.maker)
    with pytest.raises(Conflict, match="Another round"):
        actions.record_check(deposit, round_number=2, **told, by=the_clock())
    done = actions.record_check(deposit, round_number=1, **told, by=the_clock())
    assert (done.state, done.verdict) == ("checked", "valid")
    with pytest.raises(Conflict):
        actions.record_check(deposit, round_number=1, **told, by=the_clock())


def test_a_correction_opens_a_new_round_with_all_files_and_no_byte_is_copied() -> None:
    opened = make_opened()
    with pytest.raises(Conflict, match="only when it is submitted or checked"):
        actions.correct_deposit(opened, by=opened.maker)
    deposit = make_submitted()
    actions.record_check(deposit, round_number=1, verdict="invalid", summary={}, by=the_clock())
    again = actions.correct_deposit(deposit, by=deposit.maker)
    assert (again.state, again.round) == ("opened", 2)
    before = deposit.files.get(is_dropped=True)
    now = deposit.files.get(is_dropped=False)
    assert (before.round, now.round) == (1, 2)
    assert path_of(before) == path_of(now)


def test_a_deposit_is_discarded_with_a_reason_and_its_bytes_stay() -> None:
    deposit = put(make_opened(), {"a.csv": b"123"})
    with pytest.raises(Unsound, match="No reason"):
        actions.discard_deposit(deposit, reason=" ", by=deposit.maker)
    actions.discard_deposit(deposit, reason="the wrong project", by=deposit.maker)
    assert Entry.objects.get(verb="deposit.discard").reason == "the wrong project"
    assert path_of(deposit.files.get()).exists()


# -------------------------------------------------------------------------------------- acceptance


def test_an_accepted_deposit_is_a_version_whose_bytes_are_those_received() -> None:
    version = make_version()
    assert (version.number, version.state, version.rows) == ("1.0.0", "held", 4)
    assert version.identifier == f"{version.dataset.identifier}.v1.0.0"
    with store().open_file(version.identifier, "data/scans.csv") as opened:
        assert opened.read() == rows()
    assert [one["role"] for one in version.creators] == ["creator", "supervisor"]
    assert not [one for one in store().verify(version.identifier) if one.is_error]
    assert fresh(version.deposit).state == "accepted"


def test_its_maker_accepts_no_deposit_and_nothing_reaches_the_store() -> None:
    deposit = make_checked()
    student, lead = deposit.maker, lead_of(deposit.dataset.project)
    with pytest.raises(NotPermitted):
        accept(deposit, **OPEN, by=student)
    own = make_checked(project=deposit.dataset.project, by=lead)
    with pytest.raises(NotPermitted):
        accept(own, **OPEN, by=lead)
    assert not [one for one in store().object_ids() if deposit.dataset.identifier in one]
    assert accept(own, **OPEN, by=make_person(Role.STEWARD)).number == "1.0.0"


def test_an_invalid_deposit_becomes_no_version() -> None:
    deposit = make_checked({"scans.csv": rows("1,R-01,2026-11-03,REST,deep")})
    assert deposit.verdict == "invalid"
    with pytest.raises(Unsound, match="do not hold together"):
        accept(deposit, **OPEN, by=lead_of(deposit.dataset.project))


def test_terms_that_do_not_hold_together_are_refused() -> None:
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)
    today = timezone.localdate()
    for terms, said in (
        ({"access": "restricted"}, "was not said"),
        ({"access": "open", "restricted_because": "vets"}, "nothing is restricted"),
        ({"access": "embargoed"}, "was not given"),
        ({"access": "embargoed", "embargoed_until": today}, "over already"),
        (
            {"access": "embargoed", "embargoed_until": months_on(today, 24) + timedelta(days=1)},
            "24 months at most",
        ),
        ({"access": "open", "embargoed_until": today}, "no embargo"),
        ({"access": "open", "licence": "MINE-1.0"}, "on the archive's list"),
    ):
        with pytest.raises(Unsound, match=said):
            accept(deposit, **{**OPEN, **terms}, by=lead)
    until = months_on(today, 24)
    version = accept(deposit, licence="CC0-1.0", access="embargoed", embargoed_until=until, by=lead)
    assert version.embargoed_until == until


def agree(project: Project, terms: str, months: int = 0) -> None:
    """Have one more student join and sign."""
    student = make_person(Role.STUDENT, name="Mirela Okonjo")
    assign_member(project, person=student, part=Part.STUDENT, by=lead_of(project))
    project.agreements.create(
        person=student, terms=terms, embargo_months=months, signed_name=student.name
    )


def test_the_data_agreement_is_kept() -> None:
    deposit = make_checked()
    project, lead = deposit.dataset.project, lead_of(deposit.dataset.project)
    today = timezone.localdate()
    agree(project, "embargoed", 6)
    with pytest.raises(Unsound, match="Mirela Okonjo signed"):
        accept(deposit, **OPEN, by=lead)
    embargoed = {"licence": "CC-BY-4.0", "access": "embargoed"}
    with pytest.raises(Unsound, match="signed"):
        accept(deposit, **embargoed, embargoed_until=months_on(today, 5), by=lead)
    agree(project, "within")
    with pytest.raises(Unsound, match="later cohorts"):
        accept(deposit, **embargoed, embargoed_until=months_on(today, 6), by=lead)
    version = accept(
        deposit,
        licence="CC-BY-4.0",
        access="restricted",
        restricted_because="For later cohorts of this study; others ask.",
        by=lead,
    )
    assert version.access == "restricted"


def test_numbers_follow_the_recipe() -> None:
    first = make_version()
    project, lead = first.dataset.project, lead_of(first.dataset.project)
    more = make_checked({"scans.csv": rows("1,R-01,,REST,1", "2,R-01,,REST,1")}, project=project)
    assert accept(more, **OPEN, step="minor", by=lead).number == "1.1.0"
    less = make_checked(project=project)
    assert accept(less, **OPEN, step="patch", by=lead).number == "1.1.1"
    next_one = make_dictionary(project.study, title="Scans, again")
    other = make_checked(project=project, dictionary=next_one)
    assert accept(other, **OPEN, by=lead).number == "2.0.0"


def test_two_deposits_do_not_become_one_version() -> None:
    deposit = make_checked()
    lead = lead_of(deposit.dataset.project)
    version = make_version(project=deposit.dataset.project)
    sealed = Sealed(
        number=version.number,
        identifier=version.identifier,
        slug=version.slug,
        descriptor={},
        manifest={},
        seal="",
        creators=[],
        rows=0,
        bytes=0,
    )
    with pytest.raises(Conflict, match=f"{lead} made another deposit version 1.0.0 on"):
        actions.accept_deposit(deposit, sealed=sealed, **OPEN, by=lead)
    assert accept(deposit, **OPEN, by=lead).number == "1.0.1"


# ---------------------------------------------------------------------------------------- the end


def test_a_version_is_withdrawn_with_a_reason_and_only_a_held_one_replaces_it() -> None:
    steward = make_person(Role.STEWARD)
    version = make_version()
    other = make_version()
    told: dict[str, Any] = {"ground": Version.Ground.FAULTY, "by": steward}
    with pytest.raises(NotPermitted):
        actions.withdraw_version(
            version, reason="r", ground="faulty", by=lead_of(version.dataset.project)
        )
    with pytest.raises(Unsound, match="No reason"):
        actions.withdraw_version(version, reason="", **told)
    for wrong in (version, other):
        with pytest.raises(Unsound, match="same dataset"):
            actions.withdraw_version(version, reason="r", replaced_by=wrong, **told)
    done = actions.withdraw_version(version, reason="a logger ran an hour ahead", **told)
    assert done.state == "withdrawn"
    assert store().manifest(version.identifier).files


def test_an_erasure_needs_a_steward_and_an_administrator_and_leaves_no_byte() -> None:
    version = make_version()
    steward = make_person(Role.STEWARD, Role.ADMINISTRATOR)
    administrator = make_person(Role.ADMINISTRATOR)
    with pytest.raises(Conflict, match="only when it is withdrawn"):
        erase(version, reason="consent", by=steward)
    actions.withdraw_version(version, ground="consent", reason="asked", by=steward)
    with pytest.raises(Unsound, match="No reason"):
        erase(version, reason="", by=steward)
    assert erase(version, reason="asked", by=steward).state == "withdrawn"
    with pytest.raises(Conflict, match="two persons"):
        erase(version, reason="asked", by=steward)
    assert store().manifest(version.identifier).files
    done = erase(version, reason="asked", by=administrator)
    assert done.state == "erased"
    with pytest.raises(Unseen):
        store().manifest(version.identifier)
    assert not quarantine().listing(version.deposit.files.get().place)
    assert fresh(version.deposit).summary == {}
    with pytest.raises(Unseen, match="no longer kept"):
        path_of(version.deposit.files.get())


# ---------------------------------------------------------------------------------------- races


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_dataset_has_one_version_of_a_number_and_a_deposit_one_live_file_of_a_name() -> None:
    version = make_version()
    deposit = put(make_opened(version.dataset.project), {"a.csv": b"1"})
    file = deposit.files.get()
    with pytest.raises(IntegrityError):
        version.dataset.versions.create(
            deposit=deposit,
            number=version.number,
            identifier="x",
            slug="x",
            descriptor={},
            manifest={},
            licence="CC0-1.0",
            access="open",
            accepted_by=deposit.maker,
        )
    file.pk = None
    with pytest.raises(IntegrityError):
        file.save()


@pytest.mark.postgres(only=True)
@pytest.mark.django_db(transaction=True)
def test_of_two_who_accept_one_deposit_at_once_the_second_is_told() -> None:
    deposit = make_checked()
    people = [lead_of(deposit.dataset.project), make_person(Role.STEWARD)]
    told: list[str] = []

    def accept_it(person: Person) -> None:
        try:
            told.append(accept(deposit, **OPEN, by=person).number)
        except Conflict as refused:
            told.append(refused.code)
        finally:
            connection.close()

    threads = [Thread(target=accept_it, args=[person]) for person in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["1.0.0", "conflict"]
    assert Version.objects.count() == 1
