"""Deeds about audits and their points."""

import pytest

from registry.errors import Conflict, NotPermitted
from registry.oversight.actions import audits as actions
from registry.permissions import Role
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_only_its_opener_writes_points_in_an_audit() -> None:
    auditor, other = make_person(Role.AUDITOR), make_person(Role.AUDITOR)
    with pytest.raises(NotPermitted):
        actions.open_audit(title="t", scope="s", by=make_person(Role.CURATOR))
    audit = actions.open_audit(title="Rays", scope="All rays this year", by=auditor)
    with pytest.raises(NotPermitted):
        actions.write_point(audit, text="Why?", addressee=other, by=other)
    point = actions.write_point(audit, text="Why?", addressee=other, by=auditor)
    assert point.state == "written"


def test_a_point_is_answered_by_its_addressee_alone_and_settled_by_an_auditor() -> None:
    auditor, lead = make_person(Role.AUDITOR), make_person(Role.SUPERVISOR)
    audit = actions.open_audit(title="Rays", scope="All rays", by=auditor)
    point = actions.write_point(audit, text="Why?", addressee=lead, by=auditor)
    with pytest.raises(NotPermitted):
        actions.answer_point(point, answer="mine", by=make_person(Role.SUPERVISOR))
    with pytest.raises(Conflict):
        actions.settle_point(point, by=auditor)
    actions.answer_point(point, answer="Because.", by=lead)
    point = actions.reopen_point(point, reason="Not enough.", by=auditor)
    assert point.state == "written"
    actions.answer_point(point, answer="Because of the storm.", by=lead)
    with pytest.raises(NotPermitted):
        actions.settle_point(point, by=lead)
    assert actions.settle_point(point, by=auditor).state == "settled"
