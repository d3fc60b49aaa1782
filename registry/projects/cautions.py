"""Cautions on a plan: what its reader must weigh; the program warns, a named person decides."""

from collections.abc import Iterable

from registry.animals.models import Enclosure
from registry.design.recording import SOURCE, recording_caution
from registry.design.replication import Caution, Treatment, replication_cautions
from registry.projects.models import Plan, Procedure, Severity

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
            "on show",
            f"Visitors see {', '.join(shown)}, and the work is more than watching: "
            f"{', '.join(more)}. A regulated procedure is never shown to the public: use a screen, "
            "other hours or another place. The named person decides.",
            ON_SHOW_SOURCE,
        )
    ]


def procedure_cautions(procedures: Iterable[Procedure]) -> list[Caution]:
    """Give the usual caution of each procedure that has one."""
    return [Caution(one.name, one.caution, one.source) for one in procedures if one.caution]


def plan_cautions(plan: Plan) -> list[Caution]:
    """Give every caution on a plan; prefetch arms, procedures and places for a list."""
    procedures, places = list(plan.procedures.all()), list(plan.places.all())
    arms = [
        Treatment(one.name, one.units, one.animals) for one in plan.arms.all() if not one.is_dropped
    ]
    found = list(replication_cautions(arms))
    if said := recording_caution(plan.sampling_rule, plan.recording_rule):
        found.append(Caution("recording rule", said, SOURCE))
    found += on_show_cautions(places, procedures)
    worst = max((one.severity for one in procedures), default=Severity.SUB_THRESHOLD)
    if worst > plan.max_severity:
        found.append(
            Caution(
                "severity",
                f"The plan expects {plan.get_max_severity_display()} at most, and one of its "
                f"procedures is commonly {Severity(worst).label}.",
                "common practice, no source",
            )
        )
    return found + procedure_cautions(procedures)
