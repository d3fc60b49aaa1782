"""Identifiers of outputs, against the standards and what the standards' own pages give."""

import pytest

from registry.answers.identifiers import checked, followed
from registry.errors import Unsound


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        # Gorman, Williams and Fraser (2014): the DOI as the journal gives it.
        ("10.1371/journal.pone.0090081", "doi:10.1371/journal.pone.0090081"),
        ("https://doi.org/10.1371/journal.pone.0090081", "doi:10.1371/journal.pone.0090081"),
        ("doi: 10.1000/182", "doi:10.1000/182"),  # the DOI Handbook's own
        # ISO 2108; the example of the ISBN Users' Manual (from memory): 0-306-40615-2.
        ("0-306-40615-2", "isbn:9780306406157"),
        ("978-0-306-40615-7", "isbn:9780306406157"),
        ("ISBN 0-8044-2957-X", "isbn:9780804429573"),
        ("https://thesis.example.org/12", "https://thesis.example.org/12"),
        ("  ", ""),
    ],
)
def test_an_identifier_is_kept_in_one_way(said: str, kept: str) -> None:
    assert checked(said) == kept


@pytest.mark.parametrize(
    "said", ["978-0-306-40615-8", "0-306-40615-3", "10.13/x", "11.1371/journal", "ftp://a.b/c", "x"]
)
def test_what_is_none_is_refused_with_the_reason(said: str) -> None:
    with pytest.raises(Unsound) as refused:
        checked(said)
    assert "identifier" in refused.value.fields


def test_a_doi_leads_to_its_address_and_an_isbn_nowhere() -> None:
    assert followed("doi:10.1000/182") == "https://doi.org/10.1000/182"
    assert followed("isbn:9780306406157") == ""
