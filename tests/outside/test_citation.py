"""Our citations against the JSON Schemas of CITATION.cff 1.2.0 and CSL-JSON.

Sources: github.com/citation-file-format/citation-file-format (schema.json) and
github.com/citation-style-language/schema (schemas/input/csl-data.json).
"""

import json
from dataclasses import replace
from datetime import date

import pytest
import yaml
from jsonschema import Draft7Validator

from archive.exports.citation import NAME_REMOVED, Citation, Creator, cff, csl_json
from archive.exports.identifier import mint, qualify
from archive.exports.licences import LICENCES

pytestmark = pytest.mark.outside

PLAIN = Citation(
    identifier=qualify(mint(), 1),
    title="Ray enrichment",
    version="1.0.0",
    creators=(Creator("Patel", "Asha", "0000-0002-1825-0097", "Norrholm University"),),
    publisher="Example Aquarium",
    issued=date(2026, 5, 1),
    url="https://example.org/v1",
    licence="CC-BY-4.0",
    abstract="What rays do.\nIn two lines.",
    keywords=("rays", "enrichment", "rays"),
)
CASES = [
    PLAIN,
    replace(PLAIN, creators=()),
    replace(PLAIN, creators=(NAME_REMOVED,)),
    replace(PLAIN, creators=(Creator("Sukarno"), Creator("Skerrywick Aquarium", is_body=True))),
    replace(PLAIN, abstract="", keywords=(), licence=""),
    replace(PLAIN, title='A "title": with # odd – signs’ \\ & {braces}'),
    *(
        replace(PLAIN, registered=one)
        for one in ("doi:10.5555/12345678", "hdl:20.1000/105", "doi:10.5555/ray's")
    ),
    *(replace(PLAIN, licence=licence) for licence in LICENCES),
]


def faults(schema, value):
    validator = Draft7Validator(schema, format_checker=Draft7Validator.FORMAT_CHECKER)
    return [f"{list(error.path)}: {error.message}" for error in validator.iter_errors(value)]


def test_every_cff_validates(suites):
    schema = json.loads((suites / "citation" / "cff-schema.json").read_text("utf-8"))
    for case in CASES:
        assert faults(schema, yaml.safe_load(cff(case))) == []
    print(f"CITATION.cff: {len(CASES)} cases ran")
    # The judge can say no.
    assert faults(schema, yaml.safe_load(cff(replace(PLAIN, licence="No-Such"))))
    assert faults(schema, yaml.safe_load(cff(replace(PLAIN, title=""))))


def test_every_csl_json_validates(suites):
    schema = json.loads((suites / "citation" / "csl-data.json").read_text("utf-8"))
    for case in CASES:
        assert faults(schema, csl_json(case)) == []
    print(f"CSL-JSON: {len(CASES)} cases ran")
    assert faults(schema, [{**csl_json(PLAIN)[0], "type": "table"}])
