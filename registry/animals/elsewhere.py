"""Where an animal or a group is when it is not here, by what the slice of those afar recorded."""

from typing import Any

from registry.animals.models import Animal, Group
from registry.permissions import Verb, allowed


def elsewhere_of(subject: Animal | Group, person: Any) -> dict[str, Any]:
    """Give its custodies, what was heard of it, and its dossiers, as far as one may see them."""
    custodies = allowed(subject.custodies.all(), person, Verb.CUSTODY_SEE)
    held = list(custodies.select_related("holder", "answerable"))
    return {
        "custodies": held,
        "away": next((one for one in held if one.state == "given"), None),
        "news": list(allowed(subject.news.filter(state="told"), person, Verb.NEWS_SEE)),
        "dossiers": list(allowed(subject.dossiers.all(), person, Verb.DOSSIER_SEE)),
    }
