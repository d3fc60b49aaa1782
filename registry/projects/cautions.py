"""Cautions on a plan: what its reader must weigh; the program warns, a named person decides."""

import re
from collections.abc import Iterable
from dataclasses import replace

from django.utils.translation import gettext as _

from registry.animals.models import Enclosure
from registry.design.recording import SOURCE, recording_caution
from registry.design.replication import Caution, Treatment, replication_cautions
from registry.design.units import Candidate
from registry.permissions import Part
from registry.projects.models import Member, Plan, Procedure, Severity

UNIT_SOURCE = "Lazic, Clarke-Williams and Munafò (2018), PLoS Biology 16, e2005282"
ON_SHOW_SOURCE = (
    "Animals (Scientific Procedures) Act 1986, section 16: no regulated procedure is shown to the "
    "public (content from memory)"
)


def on_show_cautions(places: Iterable[Enclosure], procedures: Iterable[Procedure]) -> list[Caution]:
    """Warn of more than watching in an enclosure that visitors see."""
    shown = [str(one) for one in places if one.is_on_show]
    more = [str(one) for one in procedures if one.is_contact or one.severity > 0]
    if not shown or not more:
        return []
    return [
        Caution(
            _("on show"),
            _(
                "Visitors see %(shown)s, and the work is more than watching: %(more)s. A regulated "
                "procedure is never shown to the public: use a screen, other hours or another "
                "place. The named person decides."
            )
            % {"shown": ", ".join(shown), "more": ", ".join(more)},
            ON_SHOW_SOURCE,
        )
    ]


def procedure_cautions(procedures: Iterable[Procedure]) -> list[Caution]:
    """Give the usual caution of each procedure that has one."""
    return [Caution(one.name, one.caution, one.source) for one in procedures if one.caution]


def _unit_cautions(plan: Plan) -> list[Caution]:
    """Warn where one of the three questions that name the unit was answered with no."""
    answers = (plan.is_randomised_alone, plan.is_treated_alone, plan.is_uninfluenced)
    asked = Candidate(
        plan.experimental_unit or _("unit"), *(answer is not False for answer in answers)
    )
    if asked.is_unit:
        return []
    then = _("What the treatment is given to by itself, such as the tank, is the unit.")
    return [Caution(_("experimental unit"), f"{' '.join(asked.doubts)} {then}", UNIT_SOURCE)]


def key_cautions(plan: Plan, members: Iterable[Member]) -> list[Caution]:
    """Warn where somebody who collects may read the key."""
    holders = {one.pk for one in plan.keyholders.all()}
    watching = {Part.STUDENT, Part.OBSERVER}
    seeing = [
        str(one.person) for one in members if one.part in watching and one.person_id in holders
    ]
    if not seeing:
        return []
    said = _(
        "%(people)s may read the key and also collects: whoever knows the treatment is not blind "
        "to it. Let somebody else hold the key."
    ) % {"people": ", ".join(seeing)}
    return [Caution(_("blinding"), said, "common practice, no source")]


def plan_cautions(plan: Plan) -> list[Caution]:
    """Give every caution on a plan; prefetch arms, procedures and places for a list."""
    procedures, places = list(plan.procedures.all()), list(plan.places.all())
    arms = [
        Treatment(one.name, one.units, one.animals) for one in plan.arms.all() if not one.is_dropped
    ]
    found = [*replication_cautions(arms), *_unit_cautions(plan)]
    if said := recording_caution(plan.sampling_rule, plan.recording_rule):
        found.append(Caution(_("recording rule"), said, SOURCE))
    found += on_show_cautions(places, procedures)
    worst = max((one.severity for one in procedures), default=Severity.SUB_THRESHOLD)
    if worst > plan.max_severity:
        found.append(
            Caution(
                _("severity"),
                _(
                    "The plan expects %(expected)s at most, and one of its procedures is commonly "
                    "%(worst)s."
                )
                % {"expected": plan.get_max_severity_display(), "worst": Severity(worst).label},
                "common practice, no source",
            )
        )
    return [_for_readers(one) for one in found + procedure_cautions(procedures)]


_FROM_MEMORY = re.compile(r"[\s,;]*\(?(?:content )?from memory\)?")


def _for_readers(caution: Caution) -> Caution:
    """Leave out how a source was quoted, which is for whoever maintains the text."""
    return replace(caution, source=_FROM_MEMORY.sub("", caution.source))
