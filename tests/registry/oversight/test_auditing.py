"""Drawing uses for an audit, by chance that can be repeated and where the risk is."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from registry.design.draws import Stream
from registry.errors import Conflict, NotPermitted, Unsound
from registry.oversight import actions
from registry.oversight.auditing import RISKS, counts_of, drawn, useless_sessions, uses_within
from registry.oversight.models import Audit, Use
from registry.permissions import Role
from tests.worlds.approvals import World
from tests.worlds.oversight import (
    make_enrolled,
    make_handling,
    make_held_session,
    make_use,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
SEED = "000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f"


def open_audit(**more: object) -> Audit:
    today = timezone.localdate()
    given: dict[str, object] = {
        "title": "Rays",
        "scope": "All rays.",
        "from_on": today - timedelta(days=60),
        "to_on": today,
        "by": make_person(Role.AUDITOR),
        **more,
    }
    return actions.open_audit(**given)  # type: ignore[arg-type]  # why: a test's own


def uses_of(world: World, n: int) -> list[Use]:
    one = make_enrolled(world, 1)[0]
    return [make_use(world, one) for _nth in range(n)]


@pytest.mark.postgres
def test_a_draw_by_chance_is_made_again_by_its_seed_and_its_moment() -> None:
    world = make_handling()
    uses = uses_of(world, 8)
    audit = open_audit()
    actions.draw_uses(audit, how="chance", size=3, seed=SEED, by=audit.opener)
    draw = audit.draws.get()
    assert (draw.of, draw.seed) == (8, SEED)
    first = list(audit.sampled.values_list("use", flat=True))
    make_use(world, uses[0].enrolment)  # what is entered later changes nothing
    assert audit.from_on
    assert audit.to_on
    among = uses_within(audit.from_on, audit.to_on, draw.known_at)
    again, of = drawn(among, 3, bytes.fromhex(SEED))
    assert (again, of) == (first, 8)
    whole, _of = drawn(among, 8, bytes.fromhex(SEED))
    assert sorted(whole) == [one.pk for one in uses]
    assert whole[:3] == first


def test_every_use_is_drawn_as_often_as_every_other() -> None:
    uses_of(make_handling(), 4)
    today = timezone.localdate()
    among = uses_within(today, today, timezone.now())
    counts: dict[int, int] = {}
    for nth in range(120):
        (one,), _of = drawn(among, 1, nth.to_bytes(32))
        counts[one] = counts.get(one, 0) + 1
    # 30 of 120 each; a binomial's six standard deviations are 28
    assert len(counts) == 4
    assert max(counts.values()) < 58
    assert Stream(bytes(32)).below(4) in range(4)


def test_uses_are_drawn_where_the_risk_is() -> None:
    world = make_handling(days_ago=50)
    one = make_enrolled(world, 1)[0]
    now = timezone.now()
    plain = make_held_session(world, [one], start=now).uses.get()
    late = make_use(world, one, happened_at=now - timedelta(days=30))
    wrong = make_use(world, one)
    actions.reverse_use(wrong, reason="Another ray.", by=world.student)
    hard = make_use(world, one, severity=3)
    today = timezone.localdate()
    found = {name: number for name, _said, number in counts_of(today, today, timezone.now())}
    assert found["passed"] == 1
    assert found["edited"] == 1
    assert found["no_session"] == 2
    first = today - timedelta(days=60)
    among = uses_within(first, today, timezone.now())
    assert list(RISKS["late"].among(among, first, today)) == [late]
    assert list(RISKS["passed"].among(among, today, today).filter(severity=3)) == [hard]
    assert plain not in RISKS["no_session"].among(among, first, today)


@pytest.mark.parametrize("at_once", [1, 200])
def test_uses_near_the_number_or_the_end_of_an_approval_are_found(
    monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr("registry.oversight.auditing._AT_ONCE", at_once)
    today = timezone.localdate()
    full = make_handling(max_animals=4, ends_on=today + timedelta(days=2))
    near = [make_use(full, one) for one in make_enrolled(full, 4)]
    soon = make_handling(max_animals=4, ends_on=today + timedelta(days=3))
    near += [make_use(soon, one) for one in make_enrolled(soon, 4)]
    roomy = make_handling(max_animals=12)
    uses_of(roomy, 1)
    among = uses_within(today, today, timezone.now())
    for risk in ("near_limit", "near_expiry"):
        assert list(RISKS[risk].among(among, today, today).order_by("pk")) == near


def test_a_session_that_was_held_without_a_use_is_found() -> None:
    world = make_handling()
    rays = make_enrolled(world, 1)
    empty = make_held_session(world, [])
    make_held_session(world, rays, start=timezone.now() + timedelta(hours=2))
    day = timezone.localdate()
    assert list(useless_sessions(day, day + timedelta(days=1))) == [empty]


def test_a_draw_that_makes_no_sense_is_refused_in_words() -> None:
    audit = open_audit()
    by = audit.opener
    with pytest.raises(NotPermitted):
        actions.draw_uses(audit, how="chance", size=1, by=make_person(Role.AUDITOR))
    for wrong in ({"size": 0}, {"size": 201}, {"how": "taste"}, {"seed": "abc"}):
        with pytest.raises(Unsound):
            actions.draw_uses(audit, **{"how": "chance", "size": 1, **wrong}, by=by)  # type: ignore[arg-type]  # why: a test's own
    with pytest.raises(Conflict, match="none on that ground"):
        actions.draw_uses(audit, how="late", size=5, by=by)
    timeless = open_audit(from_on=None, to_on=None)
    with pytest.raises(Conflict, match="which days"):
        actions.draw_uses(timeless, how="chance", size=1, by=timeless.opener)
    with pytest.raises(Unsound, match="before its first"):
        open_audit(to_on=date(2020, 1, 1))


def test_each_use_is_confirmed_by_evidence_or_doubted_and_points_are_due_and_printed() -> None:
    world = make_handling()
    uses_of(world, 2)
    audit = open_audit()
    actions.draw_uses(audit, how="no_session", size=2, by=audit.opener)
    one, other = audit.sampled.all()
    with pytest.raises(Unsound, match="by what"):
        actions.confirm_use(one, evidence=" ", by=audit.opener)
    with pytest.raises(Unsound):
        actions.doubt_use(other, reason=" ", by=audit.opener)
    actions.confirm_use(one, evidence="The keeper's diary.", by=audit.opener)
    other = actions.doubt_use(other, reason="The diary has no such day.", by=audit.opener)
    with pytest.raises(Conflict):
        actions.doubt_use(one, reason="Again.", by=audit.opener)
    assert actions.confirm_use(other, evidence="Another diary.", by=audit.opener).state == (
        "confirmed"
    )
    strange = uses_of(world, 1)[0]
    with pytest.raises(Unsound, match="does not look at"):
        actions.write_point(audit, text="?", addressee=world.lead, use=strange, by=audit.opener)
    yesterday = timezone.localdate() - timedelta(days=1)
    with pytest.raises(Unsound, match="has passed"):
        actions.write_point(
            audit, text="?", addressee=world.lead, due_on=yesterday, by=audit.opener
        )
    point = actions.write_point(
        audit,
        text="Why is there no session?",
        addressee=world.lead,
        use=one.use,
        due_on=timezone.localdate(),
        by=audit.opener,
    )
    assert not point.is_overdue
    with time_machine.travel(datetime.now(UTC) + timedelta(days=2)):
        assert point.is_overdue
    client = Client()
    client.force_login(audit.opener)
    page = client.get(audit.get_absolute_url()).content.decode()
    assert "Why is there no session?" in page
    assert "without a session" in page.lower()
    paper = client.get(f"/oversight/audits/{audit.pk}/report.pdf")
    assert paper.content.startswith(b"%PDF")
