"""Our store and our reader against the Oxford Common File Layout 1.1.

Sources: the validator of the package ocfl-py (its own code, not ours), and the fixture objects
of github.com/OCFL/fixtures (1.1), whose bad ones bear their error codes in their names.
"""

import re
import shutil
from datetime import UTC, datetime, timedelta, timezone

import ocfl
import pytest
from ocfl.validator import Validator

from archive.storage.reader import read_object
from archive.storage.store import Store

pytestmark = pytest.mark.outside


@pytest.fixture
def filled(tmp_path):
    store = Store(tmp_path / "ocfl")
    table = tmp_path / "a.csv"
    table.write_bytes(b"nest,pebbles\n1,12\n")
    empty = tmp_path / "empty.csv"
    empty.write_bytes(b"")
    zones = (UTC, timezone(timedelta(hours=5, minutes=30)))
    for number, zone in enumerate(zones, start=1):
        store.publish(
            f"ark:99999/s1bcdfghjkmnq.v{number}",
            {"datapackage.json": table, "data/a.csv": table, "original/deep/er/empty.csv": empty},
            message="Angenommen – «принято»",
            user_name="data steward",
            user_address="https://orcid.org/0000-0002-1825-0097",
            created=datetime(2026, 5, number, 9, 30, 15, 250, tzinfo=zone),
        )
    store.publish(
        "urn:x-strandline:" + "long" * 60,
        {"a.csv": table},
        message="",
        user_name="clock",
        created=datetime(2026, 5, 1, tzinfo=UTC),
    )
    return store


def judged(path):
    validator = Validator(log_warnings=True)
    valid = validator.validate_object(str(path))
    return valid, validator.log.num_errors, validator.log.num_warnings, validator.status_str()


def test_the_stores_objects_pass_anothers_validator_without_a_warning(filled):
    objects = [filled._path(name) for name in filled.object_ids()]
    assert len(objects) == 3
    for path in objects:
        valid, errors, warnings, told = judged(path)
        assert (valid, errors, warnings) == (True, 0, 0), told
    # The judge can say no.
    table = objects[0] / "v1/content/datapackage.json"
    table.chmod(0o644)
    table.write_bytes(b"other")
    assert judged(objects[0])[0] is False


def test_the_stores_root_passes_anothers_validator_without_a_warning(filled):
    root = ocfl.StorageRoot(str(filled.root))
    assert root.validate(log_warnings=True)
    assert (root.num_objects, root.good_objects, root.errors) == (3, 3, [])
    assert (root.log.num_errors, root.log.num_warnings) == (0, 0)
    filled.erase("ark:99999/s1bcdfghjkmnq.v1")
    root = ocfl.StorageRoot(str(filled.root))
    assert root.validate(log_warnings=True)
    assert (root.num_objects, root.good_objects, root.errors) == (2, 2, [])


def test_our_reader_judges_the_fixtures_as_their_makers_do(suites):
    counted = {}
    wrong = []
    for kind in ("good-objects", "warn-objects", "bad-objects"):
        cases = sorted(path for path in (suites / "ocfl" / "1.1" / kind).iterdir() if path.is_dir())
        counted[kind] = len(cases)
        for case in cases:
            reading = read_object(case)
            named = set(re.findall(r"[EW]\d{3}(?=_)", case.name))
            found = {problem.code for problem in reading.problems}
            right = {
                "good-objects": not found,
                "warn-objects": reading.is_valid and found == named,
                "bad-objects": not reading.is_valid and bool(named & found),
            }
            if not right[kind]:
                wrong.append(f"{kind}/{case.name}: {sorted(found)}")
    print(f"OCFL 1.1 fixtures: {sum(counted.values())} cases ran ({counted})")
    assert not wrong, "\n".join(wrong)
    assert counted["good-objects"] >= 12
    assert counted["warn-objects"] >= 13
    assert counted["bad-objects"] >= 52


def test_our_reader_and_anothers_agree_on_each_way_to_spoil_an_object(filled, tmp_path):
    sound = filled._path("ark:99999/s1bcdfghjkmnq.v1")
    files = sorted(path.relative_to(sound) for path in sound.rglob("*") if path.is_file())
    cases = 0
    apart = []
    for number, name in enumerate(files):
        for way in ("gone", "longer", "copied"):
            spoilt = tmp_path / f"spoilt-{number}-{way}"
            shutil.copytree(sound, spoilt)
            file = spoilt / name
            file.chmod(0o644)
            if way == "gone":
                file.unlink()
            elif way == "longer":
                file.write_bytes(file.read_bytes() + b"x")
            else:
                shutil.copyfile(file, file.with_name(f"{name.name}.copy"))
            cases += 1
            if read_object(spoilt).is_valid != judged(spoilt)[0]:
                apart.append((way, name.as_posix(), read_object(spoilt).is_valid))
    print(f"spoilt objects: {cases} cases ran")
    assert cases == 3 * len(files) == 24
    # Apart only where we are the stricter: the standard says what a digest file must look like,
    # and the other forgives what stands behind its first line (E061).
    assert apart == [
        ("longer", "inventory.json.sha512", False),
        ("longer", "v1/inventory.json.sha512", False),
    ]
