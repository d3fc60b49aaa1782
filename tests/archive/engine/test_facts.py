from datetime import UTC, date, datetime

from archive.engine.facts import Enrolled, Held, Live, Planned, RegisterFacts, Restricted


def test_facts_survive_the_way_to_a_child_open_ends_and_zones_and_all():
    facts = RegisterFacts(
        project="Egg strings 2026",
        enrolments=(Enrolled("CE-01", None), Enrolled("CE-01", date(2026, 4, 1), date.max)),
        approvals=(Live(None, date(2026, 5, 31), (0, 4)), Live(date.min)),
        restrictions=(Restricted("CE-01", None, None, "vet's word", "no handling"),),
        places=("T1",),
        enclosures=(),
        observers=None,
        sessions=(Held("S1", datetime(2026, 5, 11, 9, tzinfo=UTC)),),
        planned=(Planned("animal", 3),),
    )
    assert RegisterFacts.from_json(facts.to_json()) == facts
    assert RegisterFacts.from_json(RegisterFacts().to_json()) == RegisterFacts()
