"""Whose an animal or a group is, and where when it is not here, by what the slices recorded."""

from typing import Any

from registry.animals.models import Animal, Group
from registry.permissions import Verb, allowed


def elsewhere_of(subject: Animal | Group, person: Any) -> dict[str, Any]:
    """Give its loans, custodies, news and dossiers, as far as one may see them."""
    custodies = allowed(subject.custodies.all(), person, Verb.CUSTODY_SEE)
    held = list(custodies.select_related("holder", "answerable"))
    loans = allowed(subject.loans.all(), person, Verb.LOAN_SEE)
    return {
        "loans": list(loans.select_related("institution")),
        "custodies": held,
        "away": next((one for one in held if one.state == "given"), None),
        "news": list(allowed(subject.news.filter(state="told"), person, Verb.NEWS_SEE)),
        "dossiers": list(allowed(subject.dossiers.all(), person, Verb.DOSSIER_SEE)),
    }
