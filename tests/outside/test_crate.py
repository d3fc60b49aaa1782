"""Our crates against a reader that others wrote, and against the context of the specification.

Sources: rocrate 0.16, the reader and writer of the RO-Crate community;
github.com/ResearchObject/ro-crate, docs/_specification/1.2/context.jsonld.
"""

import json

import pytest
from rocrate.rocrate import ROCrate

from archive.exports.crate import NAME, crate
from tests.outside.test_citation import CASES, PLAIN
from tests.worlds.archive import descriptor

pytestmark = pytest.mark.outside


def published():
    told = descriptor() | {"$schema": "https://datapackage.org/profiles/2.0/datapackage.json"}
    about = {"path": "data/scans.csv", "mediatype": "text/csv", "bytes": 4, "hash": "sha256:ab"}
    told["resources"][0] |= about
    return told


def test_a_crate_is_read_by_the_community_s_own_reader(tmp_path):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "scans.csv").write_text("n\n1\n", encoding="utf-8")
    (tmp_path / "datapackage.json").write_text("{}", encoding="utf-8")
    (tmp_path / NAME).write_text(crate(PLAIN, published()), encoding="utf-8")
    read = ROCrate(str(tmp_path))
    assert read.version == "1.2"
    assert read.name == "Ray enrichment, version 1.0.0"
    assert read.license["name"] == "Creative Commons Attribution 4.0 International"
    assert [one.id for one in read.data_entities] == ["datapackage.json", "data/scans.csv"]
    (author,) = read.root_dataset["author"]
    assert author.id == "https://orcid.org/0000-0002-1825-0097"
    assert author["affiliation"]["name"] == "Norrholm University"
    columns = {one["name"]: one for one in read.root_dataset["variableMeasured"]}
    assert list(columns) == ["scan", "ray", "seen_on", "posture", "depth"]
    assert columns["depth"]["unitText"] == "m"


@pytest.mark.parametrize("case", CASES)
def test_every_name_in_a_crate_is_named_once_and_leads_somewhere(case):
    graph = json.loads(crate(case, published()))["@graph"]
    names = [entity["@id"] for entity in graph]
    assert len(set(names)) == len(names)
    for entity in graph:
        for key, value in entity.items():
            for one in value if isinstance(value, list) else [value]:
                if isinstance(one, dict) and key != "conformsTo":
                    assert one["@id"] in names, f"{entity['@id']}: {key}"


def test_every_term_is_one_of_the_context_of_the_specification(suites):
    text = (suites / "ro-crate" / "context-1.2.jsonld").read_text("utf-8")
    terms = json.loads(text)["@context"].keys()
    used = set()
    for entity in json.loads(crate(PLAIN, published()))["@graph"]:
        used |= {key for key in entity if not key.startswith("@")} | {entity["@type"]}
    assert used <= terms, used - terms
    assert len(used) > 20
    print(f"suites: RO-Crate 1.2: {len(used)} of {len(used)} terms are in its context")
