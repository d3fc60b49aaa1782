"""The gate of a dictionary: who was tested, by which ethogram, and what waits until they were."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from archive import actions
from archive.acceptance import accept
from archive.analysis.asked.kinds import Request
from archive.engine.facts import Passed
from archive.facts import facts_of
from archive.gate import not_passed
from archive.models import Deposit
from registry.errors import Conflict, NotPermitted, Unsound
from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import (
    descriptor,
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
    resources = descriptor()["resources"]
    resources[0]["schema"]["fields"].append(
        {"name": "who", "type": "string", "title": "Who", "x:role": "observer"}
    )
    gated = make_dictionary(study, resources=resources, **{"x:gate": GATE})
    session = make_held_session(world, make_enrolled(world, 1))
    watched = session.observers.get()
    code = world.project.members.with_codes().get(person=watched).data_code
    day_before = today - timedelta(days=1)

    def checked(*days: date) -> Deposit:
        """Give a deposit with a row of the observer on each of these days."""
        lines = [f"{n},R-01,{day},REST,1.5,{code}" for n, day in enumerate(days)]
        text = "\n".join(["scan,ray,seen_on,posture,depth,who", *lines, ""])
        return make_checked({"scans.csv": text.encode()}, project=world.project, dictionary=gated)

    deposit = checked(today, day_before)
    told = {one["code"]: one for one in deposit.summary["entries"]}["untested-observer"]
    assert code in str(told)
    assert "let the observer sit the test" in str(told)
    steward, lead = make_person(Role.STEWARD), lead_of(world.project)
    terms = {"licence": "CC-BY-4.0", "access": "open"}
    with pytest.raises(Conflict, match=f"{code} has sat no test .* The check found 2 rows"):
        accept(deposit, **terms, by=steward)
    browser = Client()
    browser.force_login(steward)
    page = browser.get(f"/archive/deposits/{deposit.pk}/accept/").content.decode()
    assert "has sat no test" in page
    given = {"dictionary": gated, "pair": "R-01 and R-02", "sat_on": today}
    with pytest.raises(NotPermitted, match="your own"):
        actions.name_sitting(analysis, **given, person=lead, by=lead)
    with pytest.raises(Unsound, match="no agreement of that pair"):
        actions.name_sitting(analysis, **{**given, "pair": "R-01"}, person=watched, by=lead)
    actions.name_sitting(analysis, **given, person=watched, by=lead)
    # Nine of ten alike and kappa .80: both marks are reached, from today on and not before.
    assert facts_of(world.project, gated).tested == (Passed(code, today, None),)
    assert facts_of(world.project, trained.deposit.dictionary).tested is None
    assert ["2 rows" in one for one in not_passed(deposit)] == [True]
    actions.discard_deposit(deposit, reason="It is checked again.", by=world.student)
    deposit = checked(today, day_before)
    with pytest.raises(Conflict, match="The check found 1 row of"):
        accept(deposit, **terms, by=steward)
    actions.discard_deposit(deposit, reason="It is coded anew.", by=world.student)
    deposit = checked(today)
    assert not_passed(deposit) == []
    assert accept(deposit, **terms, by=steward).state == "held"
    # The dictionary says what it asks, and each reader how they stand.
    page = browser.get(gated.get_absolute_url()).content.decode()
    assert "90 per cent of the moments" in page
    assert "You have not passed" in page
    browser.force_login(watched)
    assert "You have passed." in browser.get(gated.get_absolute_url()).content.decode()
    browser.force_login(steward)
    assert str(gated) in browser.get(analysis.get_absolute_url()).content.decode()
