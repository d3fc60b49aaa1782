"""The deed that says whose young one is."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.lineage import forebears_of
from registry.animals.models import Animal, Candidate, EggCase, Embryo, Group, Parentage, Sex
from registry.animals.present import others_possible
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move

type Young = Animal | Group | EggCase | Embryo

_VERBS: dict[str, Verb] = {
    "animal": Verb.ANIMAL_NAME_PARENT,
    "group": Verb.GROUP_NAME_PARENT,
    "case": Verb.CASE_NAME_PARENT,
    "embryo": Verb.CASE_NAME_PARENT,
}


@transaction.atomic
def name_parent(
    young: Young,
    *,
    role: str,
    parent: Animal | None = None,
    candidates: Sequence[Animal] = (),
    evidence: str,
    note: str = "",
    by: Person,
) -> Parentage:
    """Say who the dam or the sire is, or who may be; what was held before is kept beside it.

    Refused when: neither a parent nor two candidates are named, or both are; a case is given a
    sire; the parent is of the wrong sex, of another taxon, was not born before, or descends from
    the young one; it is said to be the only one that could be, and others could.
    """
    subject: Any = young.case if isinstance(young, Embryo) else young
    verb = _VERBS[str(young.kind)]
    require(by, verb, subject)
    subject = locked(subject)
    before, after = move(subject, "name_parent")
    what = _("The %(role)s of %(young)s was not recorded.") % {"role": role, "young": young}
    named = [parent] if parent is not None else list(dict.fromkeys(candidates))
    _one_or_several(parent, candidates, named, what=what)
    if isinstance(young, EggCase) and role == Parentage.Role.SIRE:
        raise Unsound(
            what,
            "A case may hold embryos of two sires: a sire belongs to an embryo.",
            "Name the sire on the embryo.",
            fields={"role": "Name the sire on the embryo."},
        )
    field = "parent" if parent is not None else "candidates"
    for one in named:
        _can_be(one, young, role, what=what, field=field)
    if parent is not None and evidence == Parentage.Evidence.ONLY_PRESENT:
        _only_one(parent, young, role, what=what)
    held = young.parentage.standing().filter(role=role).select_for_update().first()
    touched: list[Any] = []
    if held is not None:
        held.replaced_at = timezone.now()
        held.save(update_fields=["replaced_at"])
        touched.append(held)
    told = Parentage.objects.create(
        **{str(young.kind): young},
        role=role,
        parent=parent,
        evidence=evidence,
        note=note,
        recorded_by=by,
    )
    touched.append(told)
    if parent is None:
        touched += [Candidate.objects.create(parentage=told, animal=one) for one in named]
    record(verb, subject, by=by, before=before, after=after, touched=touched, role=str(role))
    return told


def _one_or_several(
    parent: Animal | None, candidates: Sequence[Animal], named: list[Animal], *, what: str
) -> None:
    if parent is not None and candidates:
        raise Unsound(
            what,
            "A parent and candidates were named; if it may be another, it is not certain.",
            "Name the parent alone, or all the candidates.",
            fields={"candidates": "Leave it empty where the parent is known."},
        )
    if parent is None and len(named) < 2:  # why: two are the fewest to choose from
        raise Unsound(
            what,
            "Neither a parent nor two candidates were named.",
            "Name the parent where it is known, or else everyone that it may be.",
            fields={"parent": "Name one, or at least two candidates."},
        )


def _born_on_of(young: Young) -> date:
    """Give the day from which a young one is reckoned: of birth, of laying, or of arrival."""
    if isinstance(young, Embryo):
        return young.case.laid_on
    if isinstance(young, EggCase):
        return young.laid_on
    return young.born_on or young.arrived_on


def _can_be(parent: Animal, young: Young, role: str, *, what: str, field: str) -> None:
    """Refuse a parent that cannot be."""
    wrong = Sex.MALE if role == Parentage.Role.DAM else Sex.FEMALE
    taxon = young.case.taxon_id if isinstance(young, Embryo) else young.taxon_id
    why = ""
    if parent.sex == wrong:
        why = _("%(parent)s is %(sex)s, and cannot be a %(role)s.") % {
            "parent": parent,
            "sex": parent.get_sex_display(),
            "role": role,
        }
    elif parent.taxon_id != taxon:
        why = _("%(parent)s is of another taxon.") % {"parent": parent}
    elif parent.born_on is not None and parent.born_on >= _born_on_of(young):
        why = _("%(parent)s was born on %(day)s, not before %(young)s.") % {
            "parent": parent,
            "day": parent.born_on.isoformat(),
            "young": young,
        }
    elif isinstance(young, Animal) and young.pk in {parent.pk, *forebears_of(parent.pk)}:
        why = _("%(parent)s is %(young)s or descends from it.") % {"parent": parent, "young": young}
    if why:
        raise Unsound(
            what,
            why,
            "Check which animal it is; a wrong entry of its own is mended first.",
            fields={field: why},
        )


def _only_one(parent: Animal, young: Young, role: str, *, what: str) -> None:
    """Refuse “only one that could be” where others could, as far back as sperm is stored."""
    other = Parentage.Role.DAM if role == Parentage.Role.SIRE else Parentage.Role.SIRE
    known = young.parentage.standing().filter(role=other, parent__isnull=False)
    if isinstance(young, Embryo) and not known.exists():
        known = young.case.parentage.standing().filter(role=other, parent__isnull=False)
    held = known.select_related("parent__taxon").first()
    partner = held.parent if held is not None else None
    if partner is None:
        why = _("The %(label)s is not named, so it is not known who lived with it.") % {
            "label": other.label
        }
    else:
        others = others_possible(parent, partner, _born_on_of(young), role)
        if others is None:
            why = _(
                "%(taxon)s has no period of development or of sperm storage on record, or "
                "%(partner)s no enclosure in that time, so others cannot be left out."
            ) % {"taxon": partner.taxon, "partner": partner}
        elif others:
            why = _("In the time that counts %(partner)s lived with %(others)s too.") % {
                "partner": partner,
                "others": ", ".join(others[:5]),
            }
        else:
            return
    raise Unsound(
        what,
        why,
        "Name the candidates, or give other evidence.",
        fields={"evidence": why},
    )
