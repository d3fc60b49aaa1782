"""Open tables over HTTP: deposited, checked, accepted, analysed, and made again by the program.

The published values stand in `open_tables.py`, each beside its source.
"""

import contextlib
import io
import json
from typing import Any
from unittest import mock

import pytest
import requests

from archive.models import Version
from registry.permissions import Role
from tests.outside.open_tables import TABLES, TYPED, Published
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import answered_here, lay_columns, zipped
from tests.worlds.callers import Caller, caller_of, sign_in, work_off_the_queue
from tests.worlds.people import make_person

pytestmark = [pytest.mark.outside, pytest.mark.journey]


@pytest.mark.django_db(transaction=True)
def test_open_tables_give_what_was_published_of_them(live_server: Any) -> None:
    assert len({one.name for one in TABLES} - TYPED) >= 12, "tables that packages carry"
    world = make_collecting()
    student = caller_of(world.student, live_server.url)
    steward = caller_of(make_person(Role.STEWARD), live_server.url)
    version = _deposited(student, steward, world.project.pk)
    with requests.Session() as browser:
        sign_in(browser, live_server.url, world.student)
        lay_columns(Version.objects.get(pk=version))
        asked = [_asked(student, version, TABLES[0])]
        work_off_the_queue()  # by the limited child, as ever
        asked += [_asked(student, version, table) for table in TABLES[1:]]
        with mock.patch("archive.analysing.ask", answered_here):
            work_off_the_queue()
        for number, table in zip(asked, TABLES, strict=True):
            found = student.sees(f"analyses/{number}/")
            assert found["state"] == "computed", found["refusal"]
            _is_as_published(table, found["result"])
            _is_made_again(browser, live_server.url, found)


def _asked(student: Caller, version: int, table: Published) -> int:
    made = student.does(
        f"versions/{version}/analyse/",
        sort=table.kind,
        table=table.name,
        title=f"The open table {table.name}",
        columns=table.columns,
        **_options(table),
    )
    return int(made["id"])


def _options(table: Published) -> dict[str, Any]:
    """Give the options as the form takes them."""
    given = dict(table.options)
    if "areas" in given:
        given["areas"] = "\n".join(f"{zone} = {size}" for zone, size in given["areas"].items())
    return given


def _deposited(student: Caller, steward: Caller, project: int) -> int:
    """Deposit all tables as one package with its own descriptor, and have it accepted."""
    package = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "open-tables",
        "title": "Open tables",
        "resources": [one.resource for one in TABLES],
    }
    files = {"datapackage.json": json.dumps(package).encode()}
    files |= {f"{one.name}.csv": one.text for one in TABLES}
    deposit = student.does(f"projects/{project}/deposit/")["id"]
    sent = [("files", ("open-tables.zip", zipped(files), "application/zip"))]
    student.does(f"deposits/{deposit}/add_file/", files=sent)
    student.does(f"deposits/{deposit}/submit/")
    work_off_the_queue()
    report = student.sees(f"deposits/{deposit}/report/")
    assert report["verdict"] == "valid", report["counts"]
    accepted = steward.does(f"deposits/{deposit}/accept/", licence="CC0-1.0", access="open")
    return int(accepted["id"])


def _is_as_published(table: Published, result: dict[str, Any]) -> None:
    tests = {one["name"]: {**dict(one["figures"]), "p": one["p"]} for one in result["tests"]}
    for (test, figure), value in table.tests.items():
        assert tests[test][figure] == pytest.approx(value, rel=table.within), table.name
    cells = {
        (one["name"], str(row[0]), head): cell
        for one in result["tables"]
        for row in one["rows"]
        for head, cell in zip(one["heads"], row, strict=True)
    }
    for place, value in table.cells.items():
        assert cells[place] == pytest.approx(value, rel=2 * table.within), table.name


def _is_made_again(browser: requests.Session, site: str, found: dict[str, Any]) -> None:
    """Run the program that is handed over, which reads the published package by its address."""
    answer = browser.get(f"{site}/archive/analyses/{found['id']}/analysis.py", timeout=60)
    assert answer.status_code == 200
    assert f"{site}/archive/versions/" in answer.text
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(answer.text, "handed.py", "exec"), {"__name__": "handed"})
    assert " 0 are not; 0 were not made again here." in said.getvalue(), said.getvalue()
