import copy
import json
from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from archive.exports.descriptor import (
    PROFILE,
    Contributor,
    ResourceFacts,
    Source,
    VersionFacts,
    descriptor_text,
    published,
)
from registry.errors import Unsound

SUBMITTED = {
    "profile": "https://example.org/fetched.json",
    "name": "pebbles",
    "description": "Pebbles brought to nests.",
    "created": "1999-01-01",
    "contributors": [{"title": "Someone else", "email": "someone@example.org"}],
    "keywords": ["penguins", "pebbles"],
    "sources": [{"title": "An earlier year", "path": "https://example.org/earlier"}],
    "x:cohort": "spring",
    "resources": [
        {
            "name": "pebbles",
            "path": "pebbles.csv",
            "profile": "tabular-data-resource",
            "dialect": {"csv": {"delimiter": ";"}},
            "schema": {
                "fields": [
                    {"name": "nest", "type": "integer", "x:fieldId": "f1", "x:role": "unit"},
                    {"name": "note"},
                    {"name": "code", "constraints": {"pattern": "[a-z]+"}},
                ],
                "fieldsMatch": ["equal"],
                "primaryKey": ["nest"],
            },
        }
    ],
}
FACTS = VersionFacts(
    identifier="ark:13030/xf93gt2q.v1",
    title="Pebbles and nests",
    version="1.0.0",
    created=datetime(2026, 5, 1, 10, 30, tzinfo=timezone(timedelta(hours=1))),
    licences=("CC-BY-4.0",),
    contributors=(
        Contributor(
            "Asha Patel",
            "Asha",
            "Patel",
            "0000-0002-1825-0097",
            "Norrholm University",
            ("creator",),
        ),
    ),
    resources=(ResourceFacts("pebbles", "data/pebbles.csv", 30, "AB" * 32),),
    homepage="https://example.org/ark:13030/xf93gt2q.v1",
    sources=(Source("Pebbles, first cohort", "https://example.org/v0", "1.0.0"),),
    keywords=("pebbles", "gentoo"),
)


def test_what_the_archive_knows_stands_above_what_was_submitted():
    made = published(SUBMITTED, FACTS)
    assert made["$schema"] == PROFILE
    assert made["id"] == FACTS.identifier
    assert made["created"] == "2026-05-01T09:30:00Z"
    assert made["version"] == "1.0.0"
    assert made["contributors"] == [
        {
            "title": "Asha Patel",
            "givenName": "Asha",
            "familyName": "Patel",
            "path": "https://orcid.org/0000-0002-1825-0097",
            "organization": "Norrholm University",
            "roles": ["creator"],
        }
    ]
    assert made["licenses"] == [
        {
            "name": "CC-BY-4.0",
            "path": "https://creativecommons.org/licenses/by/4.0/",
            "title": "Creative Commons Attribution 4.0 International",
        }
    ]
    assert made["keywords"] == ["penguins", "pebbles", "gentoo"]
    assert [source["title"] for source in made["sources"]] == [
        "An earlier year",
        "Pebbles, first cohort",
    ]
    assert made["x:cohort"] == "spring"
    assert "someone@example.org" not in json.dumps(made)
    assert "fetched" not in json.dumps(made)


def test_a_table_bears_its_size_its_digest_and_where_it_lies():
    (table,) = published(SUBMITTED, FACTS)["resources"]
    assert table["path"] == "data/pebbles.csv"
    assert table["bytes"] == 30
    assert table["hash"] == "sha256:" + "ab" * 32
    assert table["type"] == "table"
    assert table["mediatype"] == "text/csv"
    assert table["dialect"] == {"delimiter": ";"}
    assert "profile" not in table


def test_a_schema_says_what_was_left_unsaid_and_keeps_its_own_properties():
    (table,) = published(SUBMITTED, FACTS)["resources"]
    nest, note, code = table["schema"]["fields"]
    assert nest == {"name": "nest", "type": "integer", "x:fieldId": "f1", "x:role": "unit"}
    assert note["type"] == "any"
    assert code["type"] == "string"
    assert table["schema"]["fieldsMatch"] == "equal"


def test_what_was_submitted_is_not_changed():
    before = copy.deepcopy(SUBMITTED)
    published(SUBMITTED, FACTS)
    assert before == SUBMITTED


@pytest.mark.parametrize(
    "resources",
    [
        (),
        (FACTS.resources[0], ResourceFacts("nests", "data/nests.csv", 3, "00" * 32)),
        (FACTS.resources[0], replace(FACTS.resources[0], path="data/again.csv")),
    ],
)
def test_tables_and_files_must_agree(resources):
    with pytest.raises(Unsound) as refused:
        published(SUBMITTED, replace(FACTS, resources=resources))
    assert "resources" in refused.value.fields


@pytest.mark.parametrize("part", ["schema", "dialect"])
def test_what_would_have_to_be_fetched_is_refused(part):
    submitted = copy.deepcopy(SUBMITTED)
    submitted["resources"][0][part] = "https://example.org/schema.json"
    with pytest.raises(Unsound) as refused:
        published(submitted, FACTS)
    assert part in refused.value.fields


def test_a_path_that_leaves_the_package_and_a_licence_not_on_the_list_are_refused():
    with pytest.raises(Unsound):
        published(
            SUBMITTED, replace(FACTS, resources=(replace(FACTS.resources[0], path="../x.csv"),))
        )
    with pytest.raises(Unsound):
        published(SUBMITTED, replace(FACTS, licences=("WTFPL",)))
    with pytest.raises(ValueError, match="time zone"):
        published(SUBMITTED, replace(FACTS, created=FACTS.created.replace(tzinfo=None)))


def test_the_text_is_json_with_its_letters_as_they_are():
    made = published(SUBMITTED, replace(FACTS, title="Kiesel – «камешки»"))
    written = descriptor_text(made)
    assert "Kiesel – «камешки»" in written
    assert json.loads(written) == made
