"""The pages and the API of bookings, enrolments, sessions, uses and breaches."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from registry.oversight import actions
from registry.oversight.models import Booking, Breach, Enrolment, Session, Use
from registry.permissions import Role
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_animals,
    make_enclosure,
    make_group,
    make_restriction,
)
from tests.worlds.approvals import World, make_collecting
from tests.worlds.oversight import (
    make_breach,
    make_confirmed_booking,
    make_enrolled,
    make_handling,
    make_held_session,
    make_offered_booking,
    make_planned_session,
    make_requested_booking,
    make_use,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_main_job_runs_through_the_pages(client: Client) -> None:
    world = make_handling()
    today = timezone.localdate().isoformat()
    client.force_login(world.student)
    asked = client.post(
        f"/oversight/projects/{world.project.pk}/request_booking/",
        {"wish": "one ray", "starts_on": today, "ends_on": world.project.ends_on.isoformat()},
    )
    booking = Booking.objects.get()
    assert asked["Location"] == booking.get_absolute_url()

    animal = make_animal(taxon=world.taxon, enclosure=world.place, name="Morwen")
    client.force_login(world.curator)
    page = client.get(f"{asked['Location']}offer/")
    assert "Morwen" in text(page)
    assert "Contacts 0, 0, 0" in text(page)
    offer = {
        "animals": [animal.pk],
        "places": [world.place.pk],
        "starts_on": today,
        "ends_on": booking.ends_on.isoformat(),
    }
    assert client.post(f"{asked['Location']}offer/", offer).status_code == 302
    assert client.post(f"{asked['Location']}confirm/").status_code == 302

    client.force_login(world.student)
    page = client.get(f"{asked['Location']}enrol/")
    assert "May be enrolled" in text(page)
    chosen = {
        "subjects": [booking.subjects.get().pk],
        "from_on": today,
        "codes": f"{animal.code} U-01",
    }
    assert client.post(f"{asked['Location']}enrol/", chosen).status_code == 302
    enrolment = Enrolment.objects.get()
    assert enrolment.code == "U-01"

    start = timezone.localtime() - timedelta(hours=1)
    planned = {
        "code": "S001",
        "place": world.place.pk,
        "planned_start": start.strftime("%Y-%m-%dT%H:%M"),
        "planned_end": (start + timedelta(minutes=20)).strftime("%Y-%m-%dT%H:%M"),
        "observers": [world.student.pk],
        "enrolments": [enrolment.pk],
    }
    page = client.get(f"/oversight/projects/{world.project.pk}/plan_session/")
    assert "Work wet, quickly" in text(page)
    done = client.post(f"/oversight/projects/{world.project.pk}/plan_session/", planned)
    session = Session.objects.get()
    assert done["Location"] == session.get_absolute_url()
    page = client.get(f"{done['Location']}hold/")
    assert "tell the keeper and the veterinary surgeon" in text(page)
    happened = {
        "started_at": planned["planned_start"],
        "ended_at": planned["planned_end"],
        "procedure": world.procedure.pk,
        "enrolments": [enrolment.pk],
    }
    assert client.post(f"{done['Location']}hold/", happened).status_code == 302
    assert Use.objects.get().enrolment == enrolment
    page = client.post(
        f"{enrolment.get_absolute_url()}discharge/",
        {"left_on": today, "actual_severity": 1},
        follow=True,
    )
    assert "discharged" in text(page)


def test_the_enrol_page_says_beside_each_animal_why_it_may_not_enter(client: Client) -> None:
    world = make_handling(max_animals=4)
    make_enrolled(world, 3)
    booking = make_confirmed_booking(world, 3)
    first, second, third = booking.subjects.all()
    make_restriction(first.animal)
    client.force_login(world.student)
    page = text(client.get(f"{booking.get_absolute_url()}enrol/"))
    assert f"{first.animal.code}, undulate ray, adult. Barred:" in page
    assert "under a restriction since" in page
    # Three of the four places are taken: each of the others could have the last one, not both.
    assert (page.count("Barred:"), page.count("May be enrolled")) == (1, 2)
    both = client.post(
        f"{booking.get_absolute_url()}enrol/",
        {"subjects": [second.pk, third.pk], "from_on": timezone.localdate().isoformat()},
    )
    assert "4 are taken, 0 left" in text(both)
    answer = client.post(
        f"{booking.get_absolute_url()}enrol/",
        {"subjects": [first.pk], "from_on": timezone.localdate().isoformat(), "unit": "pool 7"},
    )
    assert answer.status_code == 422
    assert "No animal was enrolled" in text(answer)
    assert "pool 7" in text(answer)
    assert not third.animal.enrolments.exists()
    assert not second.animal.enrolments.exists()


def test_a_curator_sees_why_an_animal_cannot_be_offered(client: Client) -> None:
    world = make_handling()
    taken, free = make_animals(2, taxon=world.taxon, enclosure=world.place)
    make_confirmed_booking(make_handling(), animals=[taken])
    booking = make_requested_booking(world)
    client.force_login(world.curator)
    page = text(client.get(f"{booking.get_absolute_url()}offer/"))
    assert f"{taken.code}, undulate ray, adult. Contacts 0, 0, 0. Barred:" in page
    group = make_group(taxon=world.taxon, enclosure=world.place)
    sent = {
        "animals": [free.pk],
        "groups": f"{group.code} 3\nno-such 4",
        "places": [world.place.pk],
        "starts_on": booking.starts_on.isoformat(),
        "ends_on": booking.ends_on.isoformat(),
    }
    answer = client.post(f"{booking.get_absolute_url()}offer/", sent)
    assert (answer.status_code, "no-such 4" in text(answer)) == (422, True)
    sent["groups"] = f"{group.code} 3"
    assert client.post(f"{booking.get_absolute_url()}offer/", sent).status_code == 302
    assert sorted(one.number for one in booking.subjects.all()) == [1, 3]


def test_an_offer_that_came_to_be_barred_says_so_on_its_page(client: Client) -> None:
    world = make_handling()
    booking = make_offered_booking(world, 1)
    make_restriction(booking.subjects.get().animal)
    client.force_login(world.curator)
    assert "Something bars this booking now" in text(client.get(booking.get_absolute_url()))


def test_a_use_that_passed_a_limit_shows_its_breach_and_the_lead_explains_it(
    client: Client,
) -> None:
    world = make_handling()
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    client.force_login(world.student)
    address = f"/oversight/projects/{world.project.pk}/record_use/"
    sent = {
        "other": "no-such",
        "procedure": world.procedure.pk,
        "happened_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        "number": 1,
        "note": "It lay in the way.",
    }
    answer = client.post(address, sent)
    assert answer.status_code == 422
    assert "It lay in the way." in text(answer)
    page = client.post(address, {**sent, "other": animal.code}, follow=True)
    assert "1 limit was passed" in text(page)
    breach = Breach.objects.get()
    assert client.get(f"{breach.get_absolute_url()}explain/").status_code == 403
    client.force_login(world.lead)
    page = client.post(
        f"{breach.get_absolute_url()}explain/", {"explanation": "Gate open."}, follow=True
    )
    assert "Gate open." in text(page)
    client.force_login(make_person(Role.AUDITOR))
    page = client.post(f"{breach.get_absolute_url()}settle/", follow=True)
    assert "settled" in text(page)


def test_todays_sessions_come_first(client: Client) -> None:
    world = make_collecting(days_ago=4)
    enrolments = make_enrolled(world, 1, starts_on=days_ago(4), from_on=days_ago(4))
    for code, away in (("LATER", 2), ("EARLIER", -2), ("NOW", 0)):
        start = timezone.now() + timedelta(days=away)
        make_planned_session(world, enrolments, start=start, code=code)
    client.force_login(world.student)
    page = text(client.get("/oversight/sessions/"))
    assert page.index(">NOW<") < page.index(">LATER<") < page.index(">EARLIER<")


@pytest.mark.parametrize("path", ["bookings", "enrolments", "sessions", "uses", "breaches"])
def test_what_a_stranger_to_the_project_may_not_see_is_neither_listed_nor_shown(
    client: Client, path: str
) -> None:
    world = make_handling()
    session = make_held_session(world)
    breach = make_breach(world)
    shown = {
        "bookings": session.enrolments.first().booking,
        "enrolments": session.enrolments.first(),
        "sessions": session,
        "uses": session.uses.first(),
        "breaches": breach,
    }[path]
    for person, status in ((world.student, 200), (make_person(Role.STUDENT), 404)):
        client.force_login(person)
        assert client.get(shown.get_absolute_url()).status_code == status
        listed = text(client.get(f"/oversight/{path}/"))
        assert (shown.get_absolute_url() in listed) is (status == 200)


def test_lists_are_narrowed_by_what_is_asked(client: Client) -> None:
    world = make_handling(days_ago=20)
    first, second = make_enrolled(world, 2, starts_on=days_ago(20), from_on=days_ago(20))
    early = make_use(world, first, happened_at=timezone.now() - timedelta(days=12))
    wrong = make_use(world, second)
    stray = make_use(world, animal=make_animal(taxon=world.taxon, enclosure=world.place))
    actions.reverse_use(wrong, reason="wrong", by=world.student)
    client.force_login(world.student)

    def listed(query: str) -> set[int]:
        page = text(client.get(f"/oversight/uses/?{query}"))
        return {one.pk for one in Use.objects.all() if f'"{one.get_absolute_url()}"' in page}

    assert listed("") == {early.pk, stray.pk}
    assert listed("which=late") == {early.pk}
    assert listed("which=breach") == {stray.pk}
    assert wrong.pk in listed("which=reversed")
    assert len(listed("which=all")) == 4
    assert listed(f"animal={first.animal.code}") == {early.pk}
    assert listed(f"since={days_ago(3)}") == {stray.pk}
    assert listed(f"until={days_ago(3)}") == {early.pk}
    assert listed("since=nonsense&project=x&procedure=x") == {early.pk, stray.pk}
    left = text(client.get("/oversight/enrolments/?state=withdrawn"))
    assert "No enrolment matches" in left
    assert "not-enrolled" in text(client.get("/oversight/breaches/?code=not-enrolled"))


def _queries(get: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as run:
        assert get().status_code == 200
    return len(run)


def _fill(world: World, n: int) -> None:
    enrolments = make_enrolled(world, n)
    make_held_session(world, enrolments)
    for one in make_animals(n, taxon=world.taxon, enclosure=world.place):
        make_use(world, animal=one)
    for _ in range(n):
        make_requested_booking(world)
        make_planned_session(world, enrolments[:1])


def test_a_list_costs_the_same_however_many_rows_it_has(client: Client) -> None:
    world = make_handling(max_animals=200)
    _fill(world, 1)
    client.force_login(world.curator)
    api = APIClient()
    api.force_authenticate(world.curator)
    addresses = [f"/oversight/{one}/" for one in ("bookings", "enrolments", "uses", "breaches")]
    addresses += ["/oversight/sessions/", "/oversight/uses/?which=all"]
    addresses += [f"/api/v1/{one}/" for one in ("bookings", "enrolments", "uses", "breaches")]
    addresses += ["/api/v1/sessions/"]

    def counts() -> dict[str, int]:
        found = {}
        for one in addresses:
            asker: Any = api if one.startswith("/api/") else client
            asker.get(one)
            found[one] = _queries(lambda asker=asker, one=one: asker.get(one))
        return found

    few = counts()
    _fill(world, 8)
    assert counts() == few


def test_an_enrol_page_costs_the_same_however_many_are_booked(client: Client) -> None:
    world = make_handling(max_animals=200)
    client.force_login(world.student)
    costs = []
    for n in (2, 12):
        booking = make_confirmed_booking(world, n)
        address = f"{booking.get_absolute_url()}enrol/"
        costs.append(_queries(lambda address=address: client.get(address)))
    assert costs[0] == costs[1]


# --------------------------------------------------------------------------------------- the API


def test_the_api_does_the_same_deeds_with_the_same_refusals() -> None:
    world = make_handling()
    student, curator = APIClient(), APIClient()
    student.force_authenticate(world.student)
    curator.force_authenticate(world.curator)
    today = timezone.localdate().isoformat()
    project = f"/api/v1/projects/{world.project.pk}"

    asked = student.post(
        f"{project}/request_booking/",
        {"wish": "a ray", "starts_on": today, "ends_on": world.project.ends_on.isoformat()},
        format="json",
    )
    assert (asked.status_code, asked.json()["state"]) == (201, "requested")
    booking = f"/api/v1/bookings/{asked.json()['id']}"
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    offer = {
        "animals": [animal.pk],
        "places": [world.place.pk],
        "starts_on": today,
        "ends_on": world.project.ends_on.isoformat(),
    }
    assert student.post(f"{booking}/offer/", offer, format="json").status_code == 403
    assert curator.post(f"{booking}/offer/", {}, format="json").status_code == 422
    assert curator.post(f"{booking}/offer/", offer, format="json").json()["state"] == "offered"
    assert curator.post(f"{booking}/offer/", offer, format="json").status_code == 409
    assert curator.post(f"{booking}/confirm/", {}, format="json").status_code == 200

    shown = student.get(f"{booking}/").json()
    assert "enrol" in shown["can"]
    assert shown["subjects"][0]["animal"] == animal.pk
    sent = {"subjects": [shown["subjects"][0]["id"]], "from_on": today}
    done = student.post(f"{booking}/enrol/", sent, format="json")
    assert (done.status_code, len(done.json()["enrolments"])) == (200, 1)
    again = student.post(f"{booking}/enrol/", sent, format="json")
    assert (again.status_code, "enrolled in this project already" in again.json()["why"]) == (
        422,
        True,
    )

    enrolment = done.json()["enrolments"][0]
    happened = timezone.now().isoformat()
    use = student.post(
        f"{project}/record_use/",
        {
            "enrolment": enrolment,
            "procedure": world.procedure.pk,
            "happened_at": happened,
            "number": 1,
        },
        format="json",
    )
    assert (use.status_code, use.json()["state"], use.json()["can"]) == (
        201,
        "standing",
        ["reverse"],
    )
    back = student.post(
        f"/api/v1/uses/{use.json()['id']}/reverse/", {"reason": "wrong"}, format="json"
    )
    assert (back.status_code, back.json()["state"], back.json()["can"]) == (200, "reversed", [])
    left = student.post(
        f"/api/v1/enrolments/{enrolment}/discharge/",
        {"left_on": today, "actual_severity": 0},
        format="json",
    )
    assert (left.status_code, left.json()["state"]) == (200, "discharged")


def test_the_api_holds_a_session_and_tells_of_its_breaches() -> None:
    world = make_handling()
    session = make_planned_session(world, start=timezone.now() - timedelta(hours=1))
    make_restriction(session.enrolments.first().animal)
    api = APIClient()
    api.force_authenticate(world.student)
    sent = {
        "started_at": session.planned_start.isoformat(),
        "ended_at": session.planned_end.isoformat(),
        "procedure": world.procedure.pk,
        "enrolments": [one.pk for one in session.enrolments.all()],
        "noise_db": 61.5,
    }
    refused = api.post(f"/api/v1/sessions/{session.pk}/hold/", sent, format="json")
    assert (refused.status_code, "noise_medium" in refused.json()["fields"]) == (422, True)
    held = api.post(
        f"/api/v1/sessions/{session.pk}/hold/", {**sent, "noise_medium": "air"}, format="json"
    )
    assert (held.status_code, held.json()["state"]) == (200, "held")
    found = api.get(f"/api/v1/breaches/?session={session.pk}").json()["results"]
    assert [one["code"] for one in found] == ["restricted"]
    assert api.get(f"/api/v1/uses/?session={session.pk}").json()["count"] == 2
    stranger = APIClient()
    stranger.force_authenticate(make_person(Role.STUDENT))
    assert stranger.get(f"/api/v1/sessions/{session.pk}/").status_code == 404
    assert stranger.get("/api/v1/breaches/").json()["count"] == 0


def test_an_offer_asks_for_days_first_and_shows_the_places_of_the_plan_before_others(
    client: Client,
) -> None:
    world = make_handling()
    booking = make_requested_booking(world)
    elsewhere = make_enclosure("FAR-1", name="Far pool")
    lived_in = make_enclosure("NEAR-1", name="Near pool")
    make_animal(taxon=world.taxon, enclosure=lived_in)
    client.force_login(world.curator)
    html = client.get(f"{booking.get_absolute_url()}offer/").content.decode()
    order = [html.index(f'name="{name}"') for name in ("starts_on", "ends_on", "animals", "places")]
    assert order == sorted(order)
    assert html.index("In the plan") < html.index("Such animals live there")
    assert "Near pool, NEAR-1" in html
    assert elsewhere.name not in html


def test_another_place_is_offered_by_its_code_and_an_unknown_code_is_told(client: Client) -> None:
    world = make_handling()
    booking = make_requested_booking(world)
    animal = make_animal(taxon=world.taxon, enclosure=world.place)
    make_enclosure("FAR-1", name="Far pool")
    client.force_login(world.curator)
    typed = {
        "animals": [animal.pk],
        "starts_on": booking.starts_on.isoformat(),
        "ends_on": booking.ends_on.isoformat(),
    }
    address = f"{booking.get_absolute_url()}offer/"
    page = client.post(address, {**typed, "other_places": "far-1, FAR-9"})
    assert page.status_code == 422
    assert "No enclosure has the code FAR-9" in page.content.decode()
    assert client.post(address, typed).status_code == 422
    assert client.post(address, {**typed, "other_places": "far-1"}).status_code == 302
    assert [str(one) for one in Booking.objects.get(pk=booking.pk).places.all()] == ["Far pool"]
