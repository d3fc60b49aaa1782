import re
from dataclasses import replace
from datetime import date

import pytest
import yaml

from archive.exports.citation import (
    Citation,
    Creator,
    bibtex,
    cff,
    csl_json,
    ris,
    text,
)

PATEL = Creator("Patel", "Asha", orcid="0000-0002-1825-0097", affiliation="Norrholm University")
CITED = Citation(
    identifier="ark:13030/xf93gt2q.v1.0.0",
    title="Ray enrichment",
    version="1.0.0",
    creators=(PATEL,),
    publisher="Example Aquarium",
    issued=date(2026, 5, 1),
    url="https://example.org/ark:13030/xf93gt2q.v1.0.0",
    licence="CC-BY-4.0",
    abstract="How often rays visit a feeder.\n\nTwo lines: “quotes” and\tmore.",
    keywords=("rays", "enrichment"),
)


def people(number):
    return tuple(Creator(f"Name{chr(65 + at)}", "Ann") for at in range(number))


def test_the_text_names_who_when_what_where():
    assert text(CITED) == (
        "Patel, A. (2026). Ray enrichment (Version 1.0.0) [Dataset]. Example Aquarium. "
        "https://example.org/ark:13030/xf93gt2q.v1.0.0"
    )


@pytest.mark.parametrize(
    ("creators", "named"),
    [
        (people(2), "NameA, A., & NameB, A. (2026)."),
        (people(3), "NameA, A., NameB, A., & NameC, A. (2026)."),
        ((Creator("van der Berg", "Mary-Ann jo"),), "van der Berg, M.-A. J. (2026)."),
        ((Creator("Skerrywick Aquarium", is_body=True),), "Skerrywick Aquarium. (2026)."),
        ((), "Ray enrichment (Version 1.0.0) [Dataset]. (2026). Example"),
    ],
)
def test_each_kind_of_author_is_named_in_its_manner(creators, named):
    assert text(replace(CITED, creators=creators)).startswith(named)


def test_of_more_than_twenty_authors_nineteen_and_the_last_are_named():
    assert text(replace(CITED, creators=people(20))).count("Name") == 20
    many = text(replace(CITED, creators=people(21)))
    assert many.count("Name") == 20
    assert "NameS, A., … NameU, A. (2026)." in many


def test_bibtex_has_its_fields_and_no_loose_brace():
    entry = bibtex(replace(CITED, title="50% of rays & {one} C:\\x_1 #2 ~$"))
    assert entry.startswith("@misc{xf93gt2q_v1_0_0,\n")
    fields = dict(re.findall(r"^  (\w+) = \{(.*)\},$", entry, re.MULTILINE))
    assert fields["author"] == "Patel, Asha"
    assert fields["year"] == "2026"
    assert fields["version"] == "1.0.0"
    assert fields["url"] == CITED.url
    assert fields["title"] == (
        r"{50\% of rays \& \{one\} C:\textbackslash{}x\_1 \#2 \textasciitilde{}\$}"
    )
    bare = re.sub(r"\\[{}]", "", entry)
    assert bare.count("{") == bare.count("}")


def test_bibtex_keeps_a_body_in_one_piece():
    bodies = (PATEL, Creator("Rays and Skates Trust", is_body=True))
    assert "author = {Patel, Asha and {Rays and Skates Trust}}" in bibtex(
        replace(CITED, creators=bodies)
    )


def test_ris_has_one_tag_a_line_whatever_the_text_holds():
    written = ris(replace(CITED, title="Rays\r\nER  - \r\nTY  - BOOK"))
    lines = written.split("\r\n")
    assert all(re.match(r"[A-Z][A-Z0-9]  - ", line) for line in lines[:-1])
    assert lines[0] == "TY  - DATA"
    assert lines[-2:] == ["ER  - ", ""]
    tags = [line[:2] for line in lines[:-1]]
    assert tags.count("TY") == tags.count("ER") == 1
    assert {"AU", "TI", "PY", "ET", "PB", "UR", "AB", "KW"} <= set(tags)
    assert "AU  - Patel, Asha" in lines


def test_csl_json_has_the_date_in_parts():
    (entry,) = csl_json(CITED)
    assert entry["type"] == "dataset"
    assert entry["issued"] == {"date-parts": [[2026, 5, 1]]}
    assert entry["author"] == [{"family": "Patel", "given": "Asha"}]


def test_cff_is_yaml_that_says_what_was_meant():
    odd = 'Rays: "a" # b \\ – ’\u2028x\x85y: {z} - [q]'
    read = yaml.safe_load(cff(replace(CITED, abstract=odd, title="no: yes")))
    assert read["abstract"] == odd
    assert read["title"] == "no: yes"
    assert read["version"] == "1.0.0"
    assert read["date-released"] == "2026-05-01"
    assert read["authors"] == [
        {
            "family-names": "Patel",
            "given-names": "Asha",
            "orcid": "https://orcid.org/0000-0002-1825-0097",
            "affiliation": "Norrholm University",
        }
    ]
    assert read["identifiers"] == [{"type": "other", "value": CITED.identifier}]
    assert read["keywords"] == ["rays", "enrichment"]


def test_cff_names_the_publisher_where_no_author_is_named():
    assert yaml.safe_load(cff(replace(CITED, creators=())))["authors"] == [
        {"name": "Example Aquarium"}
    ]
