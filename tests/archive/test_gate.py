"""The gate of a dictionary: who was tested, by which ethogram, and what waits until they were."""

import pytest
from django.test import Client
from django.utils import timezone

from archive import actions
from archive.acceptance import accept
from archive.analysis.asked.kinds import Request
from archive.gate import not_passed
from registry.errors import Conflict, NotPermitted, Unsound
from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import (
    make_analysis,
    make_checked,
    make_dictionary,
    make_version,
    rows,
)
from tests.worlds.oversight import make_enrolled, make_held_session
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db

GATE = {"same": 0.9, "kappa": 0.8}


def test_data_wait_until_their_observers_have_passed_the_test_of_the_dictionary() -> None:
    world = make_collecting()
    today = timezone.localdate()
    # Two observers of ten moments, by their depth: they differ in one of them.
    lines = [
        f"{10 * who + n},R-0{who},{today},{'REST' if n % 2 or (who, n) == (2, 4) else 'SWIM'},{n}"
        for who in (1, 2)
        for n in range(1, 11)
    ]
    columns = {"moment": "depth", "observer": "ray", "behaviour": "posture"}
    trained = make_version({"scans.csv": rows(*lines)}, project=world.project)
    analysis = make_analysis(trained, request=Request("agreement", "scans", columns))
    study = world.project.study
    with pytest.raises(Unsound, match="x:gate"):
        make_dictionary(study, **{"x:gate": {"kappa": "high"}})
    gated = make_dictionary(study, **{"x:gate": GATE})
    session = make_held_session(world, make_enrolled(world, 1))
    observers = [one.name for one in session.observers.all()]
    assert observers
    deposit = make_checked(project=world.project, dictionary=gated)
    steward, lead = make_person(Role.STEWARD), lead_of(world.project)
    terms = {"licence": "CC-BY-4.0", "access": "open"}
    with pytest.raises(Conflict, match=f"{observers[0]} has sat no test"):
        accept(deposit, **terms, by=steward)
    browser = Client()
    browser.force_login(steward)
    page = browser.get(f"/archive/deposits/{deposit.pk}/accept/").content.decode()
    assert "has sat no test" in page
    given = {"dictionary": gated, "pair": "R-01 and R-02", "sat_on": today}
    person = session.observers.get()
    with pytest.raises(NotPermitted, match="your own"):
        actions.name_sitting(analysis, **given, person=lead, by=lead)
    with pytest.raises(Unsound, match="no agreement of that pair"):
        actions.name_sitting(analysis, **{**given, "pair": "R-01"}, person=person, by=lead)
    actions.name_sitting(analysis, **given, person=person, by=lead)
    # Nine of ten alike and kappa .80: both marks are reached.
    assert not_passed(deposit) == []
    assert accept(deposit, **terms, by=steward).state == "held"
    assert str(gated) in browser.get(analysis.get_absolute_url()).content.decode()
