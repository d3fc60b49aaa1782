"""How a project's needs stand on a day."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from registry.approvals import actions
from registry.approvals.live import Days
from registry.approvals.models import Approval
from registry.approvals.standing import NeedsOf, covered_days, is_covered
from tests.worlds.approvals import make_collecting, make_granted, make_kinds, make_ready
from tests.worlds.projects import make_plan_accepted

pytestmark = pytest.mark.django_db


def test_each_kind_that_is_always_asked_stands_in_the_list() -> None:
    kinds = make_kinds()
    project = make_plan_accepted()
    standings = NeedsOf(project).on(timezone.localdate())
    asked = [kind for kind in kinds.values() if kind.is_always_asked]
    assert [one.kind for one in standings] == asked
    assert all(one.is_needed is None and one.is_in_the_way for one in standings)


def test_the_live_approvals_are_given_with_the_need() -> None:
    world = make_ready()
    today = timezone.localdate()
    by_code = {one.kind.code: one for one in NeedsOf(world.project).on(today)}
    committee = by_code["research-committee"]
    assert (committee.is_live, committee.approvals) == (True, (world.approval,))
    assert by_code["data-agreement"].is_live
    assert by_code["induction"].is_live
    assert not by_code["licence"].is_needed
    yesterday = {one.kind.code: one for one in NeedsOf(world.project).on(today - timedelta(days=1))}
    assert "granted on" in yesterday["research-committee"].why


def test_the_days_covered_are_those_on_which_every_need_is_live() -> None:
    world = make_collecting(days_ago=20)
    today = timezone.localdate()
    began = today - timedelta(days=20)
    with time_machine.travel(timezone.now() - timedelta(days=10)):
        actions.suspend_approval(world.approval, reason="r", by=world.chair)
    with time_machine.travel(timezone.now() - timedelta(days=7)):
        fresh = Approval.objects.get(pk=world.approval.pk)
        actions.reinstate_approval(fresh, reason="r", by=world.chair)
    assert covered_days(world.project, began - timedelta(days=5), today) == (
        Days(began, today - timedelta(days=11)),
        Days(today - timedelta(days=7), today),
    )
    known = timezone.now() - timedelta(days=12)
    assert covered_days(world.project, began, today, known_by=known) == (Days(began, today),)
    assert is_covered(world.project, [began, today])
    assert not is_covered(world.project, [today - timedelta(days=9)])


def test_an_induction_that_expires_uncovers_the_days_after_it() -> None:
    world = make_collecting()
    expiry = timezone.localdate() + timedelta(days=365)
    needs = NeedsOf(world.project)
    assert not [one for one in needs.lacking_on(expiry) if "induction" in one]
    assert [one for one in needs.lacking_on(expiry + timedelta(days=1)) if "induction" in one]


def test_the_standing_costs_the_same_with_one_approval_and_with_five() -> None:
    world = make_collecting()
    project, day = world.project, timezone.localdate()

    def cost() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            NeedsOf(project).on(day)
        return len(asked)

    one = cost()
    for _ in range(4):
        make_granted(project)
    assert cost() == one <= 10
