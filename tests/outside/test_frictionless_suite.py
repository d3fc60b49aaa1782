"""Our engine against the installed frictionless, over the tables and descriptors it is tested with.

Source: github.com/frictionlessdata/frictionless-py, folder data (MIT); the judge is the installed
package itself, called with encoding and layout pinned and without its limit of 1,000 errors.
Compared are code, row and column of every error. Where we differ on purpose is said in each case:
columns in other places are read by name (one missing column is one finding), and what frictionless
does not look at is refused under codes of our own.
"""

import copy
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from frictionless import FrictionlessException, Package, system

from archive.engine.codes import CODES
from archive.engine.descriptor import is_table, pin, pin_layout
from archive.engine.findings import Group, Verdict
from archive.engine.limits import Limits
from archive.engine.reading import scan_table
from archive.engine.reports import Report
from archive.engine.run import check, check_table
from archive.engine.tables import is_shifted

pytestmark = pytest.mark.outside

V2 = "https://datapackage.org/profiles/2.0/datapackage.json"
ROOMY = Limits(descriptor_depth=12)
# Errors that frictionless gives without a row or a column of its own.
NO_ROW = {code for code in CODES if code.endswith(("-label", "-header"))}
NO_COLUMN = {"primary-key", "foreign-key"}

Errors = Counter[tuple[str, int | None, str]]


def tables(folder: Path) -> list[Path]:
    """Every small table whose name may stand in a package."""
    return sorted(
        path
        for path in folder.rglob("*")
        if path.suffix in {".csv", ".tsv"}
        and path.stat().st_size < 20_000
        and path.name.isascii()
        and not set(path.name) & set(" []")
    )


def schemas(folder: Path) -> list[dict[str, Any]]:
    """Every different schema that stands in a JSON file, alone or inside a descriptor."""
    found: dict[str, dict[str, Any]] = {}
    for path in sorted(folder.rglob("*.json")):
        try:
            waiting = [json.loads(path.read_text(encoding="utf-8"))]
        except ValueError:
            continue
        while waiting:
            part = waiting.pop()
            if isinstance(part, dict):
                fields = part.get("fields")
                if isinstance(fields, list) and all(isinstance(field, dict) for field in fields):
                    found.setdefault(json.dumps(part, sort_keys=True), part)
                waiting += part.values()
            elif isinstance(part, list):
                waiting += part
    return list(found.values())


def pairs(folder: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Pair each schema with the tables that share a column with it, and with some others."""
    labels = {
        path: set(scan_table(path, "", pin_layout({}, path.suffix[1:])["csv"], Limits()).labels)
        for path in tables(folder)
    }
    for number, schema in enumerate(schemas(folder)):
        names = {field.get("name") for field in schema["fields"]}
        for at, path in enumerate(labels):
            if labels[path] & names or (at + number) % 15 == 0:
                yield path, schema


def described(path: Path, schema: dict[str, Any]) -> dict[str, Any]:
    """Wrap a table and a schema as our engine does."""
    resource = {"name": "table", "type": "table", "path": path.name, "schema": schema}
    return pin({"$schema": V2, "resources": [copy.deepcopy(resource)]})


def theirs(descriptor: dict[str, Any], folder: Path) -> Errors | None:
    """What frictionless says; None where it crashes."""
    try:
        with system.use_context(trusted=False, onerror="ignore", standards="v2"):
            package = Package.from_descriptor(copy.deepcopy(descriptor), basepath=str(folder))
            report = package.validate(limit_errors=0)
    except FrictionlessException as fault:
        return Counter((error.type, None, "") for error in fault.to_errors())
    except Exception:  # noqa: BLE001 - that it crashes is what is asked
        return None
    errors = [*report.errors, *(error for task in report.tasks for error in task.errors)]
    return Counter(
        (error.type, getattr(error, "row_number", None), getattr(error, "field_name", "") or "")
        for error in errors
    )


def ours(report: Report) -> Errors:
    """Those of our findings that bear a name of frictionless'."""
    return Counter(
        (
            finding.code,
            None if finding.code in NO_ROW else finding.row,
            "" if finding.code in NO_COLUMN else finding.field,
        )
        for finding in report.findings
        if CODES[finding.code].is_standard
    )


def stricter(report: Report) -> set[str]:
    """Those of our own codes that block."""
    return {
        finding.code
        for finding in report.findings
        if finding.group is Group.TABLE and not CODES[finding.code].is_standard
    }


def test_every_pair_of_schema_and_table_is_judged_as_frictionless_judges_it(suites):
    counted: Counter[str] = Counter()
    for path, schema in pairs(suites / "frictionless" / "data"):
        descriptor = described(path, schema)
        (resource,) = descriptor["resources"]
        report = check_table(path, schema, limits=ROOMY)
        expected = theirs(descriptor, path.parent)
        case = f"{path.name} with {json.dumps(schema)[:300]}"
        if expected is None:
            assert report.verdict is not Verdict.VALID, case
            counted["frictionless crashes, we say not checked"] += 1
            continue
        # What we say of the whole is the same wherever nothing of our own was found.
        assert (report.verdict is Verdict.VALID) == (not expected and not stricter(report)), case
        labels = scan_table(path, "", resource["dialect"]["csv"], ROOMY).labels
        if "encoding-error" in {code for code, *_ in expected}:
            assert {code for code, *_ in ours(report)} == {"encoding-error"}, case
            counted["not UTF-8"] += 1
            continue
        if is_shifted(labels, resource) and not stricter(report):
            # Held against frictionless' own reading by name.
            resource["schema"]["fieldsMatch"] = "equal"
            moved = Counter(one for one in expected if one[0] == "incorrect-label")
            by_name = theirs(descriptor, path.parent)
            assert by_name is not None, case
            extra = ours(report) - by_name
            assert set(extra) <= set(moved), case
            assert by_name - ours(report) == Counter(), case
            counted["read by name"] += 1
            continue
        assert ours(report) == expected or stricter(report) == {"unclosed-quote"}, case
        counted["valid" if not expected else "same errors"] += 1
    ran = sum(counted.values())
    print(f"frictionless: {ran} pairs ran ({dict(counted)})")
    assert counted["same errors"] > 1_000
    assert counted["valid"] > 60
    assert counted["read by name"] > 100


def test_every_descriptor_with_files_of_its_own_is_judged_as_frictionless_judges_it(suites):
    counted: Counter[str] = Counter()
    for path in sorted((suites / "frictionless" / "data").rglob("*.json")):
        try:
            descriptor = json.loads(path.read_text(encoding="utf-8"))
        except ValueError:
            continue
        if not isinstance(descriptor, dict) or not isinstance(descriptor.get("resources"), list):
            continue
        report = check(path, limits=ROOMY)
        refused = stricter(report) | {
            code for code, *_ in ours(report) if code in {"format-error", "compression-error"}
        }
        if refused:
            assert report.verdict is not Verdict.VALID, path.name
            counted["refused by our own rules"] += 1
            continue
        assert all(is_table(one) for one in descriptor["resources"]), path.name
        expected = theirs(pin(descriptor), path.parent)
        assert expected is not None, path.name
        assert ours(report) == expected, path.name
        assert (report.verdict is Verdict.VALID) == (not expected), path.name
        counted["valid" if not expected else "same errors"] += 1
    print(f"frictionless: {sum(counted.values())} descriptors ran ({dict(counted)})")
    assert counted["valid"] >= 5
    assert counted["same errors"] >= 1
    assert counted["refused by our own rules"] >= 10
