"""Published versions read by programs that others wrote, straight from the site's address.

Sources: frictionless-py (frictionlessdata, 5.21), the client of the Data Package standard; pandas
(3.1) and DuckDB (2.0), which data are read with. Each opens the address by itself, as people do.
"""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import duckdb
import pandas as pd
import pytest
from django.utils import timezone
from frictionless import Package, validate
from fsspec.implementations.http import HTTPFileSystem

from archive.models import Version
from tests.worlds.archive import make_version, rows, zipped

pytestmark = [pytest.mark.outside, pytest.mark.django_db(transaction=True)]


class DatedHttp(HTTPFileSystem):
    """Files over HTTP with a time of change, which DuckDB asks for to tell whether it read them."""

    def modified(self, path: str) -> datetime:
        """Give one and the same time: a version never changes."""
        return datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture
def address(live_server: Any) -> str:
    """Give the address of an open version on the site as it is served."""
    return f"{live_server.url}{make_version().get_absolute_url()}"


def test_frictionless_validates_a_version_by_its_address(address: str) -> None:
    report = validate(f"{address}datapackage.json")
    assert report.valid, report.to_summary()
    assert report.stats["tasks"] == 1
    assert report.tasks[0].stats["rows"] == 4
    assert report.tasks[0].stats["sha256"]
    package = Package(f"{address}datapackage.json")
    assert [row["depth"] for row in package.get_resource("scans").read_rows()] == [
        pytest.approx(float(n) + 0.5) for n in range(1, 5)
    ]


def test_frictionless_finds_a_table_that_is_not_the_one_described(
    address: str,
) -> None:
    version = Version.objects.get()
    other = make_version({"scans.csv": rows("1,R-01,,REST,1")})
    read = version.descriptor["resources"][0] | {
        "path": f"{address.rsplit('/archive', 1)[0]}{other.get_absolute_url()}data/scans.csv"
    }
    report = validate({"resources": [read]})
    assert not report.valid
    assert "hash-count" in {error.type for task in report.tasks for error in task.errors}


def test_pandas_reads_a_table_by_its_address(address: str) -> None:
    frame = pd.read_csv(f"{address}data/scans.csv")
    assert list(frame.columns) == ["scan", "ray", "seen_on", "posture", "depth"]
    assert frame["depth"].sum() == pytest.approx(12.0)


def test_duckdb_reads_a_table_by_its_address(address: str) -> None:
    # Its wheel holds no HTTP reader of its own: it is lent the one of fsspec, as its manual says.
    with duckdb.connect() as database:
        database.register_filesystem(DatedHttp())
        found = database.execute(
            "SELECT count(*), sum(depth), min(seen_on)::VARCHAR FROM read_csv(?)",
            [f"{address}data/scans.csv"],
        ).fetchone()
    assert found == (4, 12.0, str(timezone.localdate() - timedelta(days=1)))


def test_a_package_of_two_tables_and_a_key_between_them_is_valid_from_afar(
    live_server: Any,
) -> None:
    package = {
        "resources": [
            {
                "name": "rays",
                "path": "rays.csv",
                "schema": {
                    "fields": [{"name": "ray", "type": "string"}],
                    "primaryKey": ["ray"],
                },
            },
            {
                "name": "meals",
                "path": "deep/meals.tsv",
                "schema": {
                    "fields": [
                        {"name": "ray", "type": "string"},
                        {"name": "mass", "type": "number", "x:unit": "g"},
                    ],
                    "foreignKeys": [
                        {"fields": ["ray"], "reference": {"resource": "rays", "fields": ["ray"]}}
                    ],
                },
            },
        ]
    }
    files = {
        "datapackage.json": json.dumps(package).encode(),
        "rays.csv": b"ray\nR-01\nR-02\n",
        "deep/meals.tsv": b"ray\tmass\nR-01\t20.5\nR-02\t19\n",
    }
    version = make_version({"all.zip": zipped(files)}, dictionary=False)
    report = validate(f"{live_server.url}{version.get_absolute_url()}datapackage.json")
    assert report.valid, report.to_summary()
    assert [task.stats["rows"] for task in report.tasks] == [2, 2]
