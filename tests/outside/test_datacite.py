"""Our metadata records against the XML Schema of DataCite 4.6.

Source: github.com/datacite/schema, source/meta/kernel-4.6/metadata.xsd and its examples.
"""

import xml.etree.ElementTree as ET

import pytest
from lxml import etree

from archive.exports.datacite import KERNEL, record
from tests.outside.test_citation import CASES, PLAIN

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def schema():
    return {}


def valid(suites, schema):
    if not schema:
        path = suites / "datacite" / "kernel-4.6" / "metadata.xsd"
        schema["read"] = etree.XMLSchema(etree.parse(path))
    return schema["read"]


def test_every_record_validates(suites, schema):
    judge = valid(suites, schema)
    for case in CASES:
        for units in ((), ("1 204 rows",)):
            judge.assertValid(etree.fromstring(record(case, units=units)))
    print(f"suites: DataCite 4.6: {2 * len(CASES)} of {2 * len(CASES)} records are valid")


def test_the_schema_takes_its_own_examples_and_refuses_what_lacks_a_title(suites, schema):
    judge = valid(suites, schema)
    examples = sorted((suites / "datacite" / "kernel-4.6" / "example").glob("*.xml"))
    assert len(examples) == 13
    for path in examples:
        judge.assertValid(etree.parse(path))
    broken = etree.fromstring(record(PLAIN))
    broken.remove(broken.find(f"{{{KERNEL}}}titles"))
    assert not judge.validate(broken)


def test_a_record_says_what_the_citation_says():
    root = ET.fromstring(record(PLAIN))
    told = {one.tag.split("}")[1]: one.text for one in root.iter() if (one.text or "").strip()}
    assert told["identifier"] == PLAIN.identifier
    assert told["creatorName"] == "Patel, Asha"
    assert told["nameIdentifier"] == "0000-0002-1825-0097"
    assert told["title"] == "Ray enrichment"
    assert told["publicationYear"] == "2026"
    assert told["version"] == "1.0.0"
    (rights,) = root.iter(f"{{{KERNEL}}}rights")
    assert rights.get("rightsIdentifier") == "CC-BY-4.0"
