import json
from dataclasses import replace
from datetime import date

from archive.exports.citation import Citation, Creator
from archive.exports.tombstone import Reason, Withdrawn, tombstone

WITHDRAWN = Withdrawn(
    citation=Citation(
        identifier="ark:13030/xf93gt2q.v1",
        title="Ray enrichment",
        version="1.0.0",
        creators=(Creator("Patel", "Asha"), Creator("Skerrywick Aquarium", is_body=True)),
        publisher="Example Aquarium",
        issued=date(2026, 5, 1),
        url="https://example.org/1",
    ),
    reason=Reason.ERROR,
    withdrawn_on=date(2026, 6, 2),
    decided_by="data steward",
    replacement="ark:13030/xf93gt2q.v2",
)


def test_a_tombstone_says_what_was_there_and_why_it_is_not():
    told = tombstone(WITHDRAWN)
    assert json.loads(json.dumps(told)) == told
    assert told["state"] == "withdrawn"
    assert told["identifier"] == "ark:13030/xf93gt2q.v1"
    assert told["title"] == "Ray enrichment"
    assert told["creators"] == ["Patel, Asha", "Skerrywick Aquarium"]
    assert told["published_on"] == "2026-05-01"
    assert told["withdrawn_on"] == "2026-06-02"
    assert told["erased_on"] is None
    assert told["reason"] == {"class": "error", "words": Reason.ERROR.words}
    assert told["decided_by"] == "data steward"
    assert told["replacement"] == "ark:13030/xf93gt2q.v2"
    assert told["citation"].startswith("Patel, A., & Skerrywick Aquarium. (2026).")
    assert told["citation"].endswith("[withdrawn 2026-06-02]")


def test_a_removed_name_is_nowhere_in_it():
    told = tombstone(replace(WITHDRAWN, names_removed=True, erased_on=date(2026, 6, 3)))
    assert told["state"] == "erased"
    assert told["erased_on"] == "2026-06-03"
    assert told["creators"] == ["name removed"]
    assert "Patel" not in json.dumps(told)
    assert "Name removed. (2026)." in told["citation"]


def test_every_reason_has_words():
    assert len({reason.words for reason in Reason}) == len(Reason)
