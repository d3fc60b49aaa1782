"""Parents for the tests."""

from registry.animals.models import Animal, Candidate, Group, Parentage
from registry.permissions import Role
from tests.worlds.people import make_person


def make_parent(
    young: Animal | Group, role: str, *parents: Animal, evidence: str = "genetic"
) -> Parentage:
    """Say who a parent is, or, of several, who it may be."""
    one = parents[0] if len(parents) == 1 else None
    said = Parentage.objects.create(
        **{str(young.kind): young}, role=role, parent=one, evidence=evidence,
        recorded_by=make_person(Role.CURATOR),
    )  # fmt: skip
    if one is None:
        Candidate.objects.bulk_create(Candidate(parentage=said, animal=each) for each in parents)
    return said
