"""The pages of the desk: Today, search, words, help."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from registry.desk.changes import changes_since, look
from registry.desk.collection import stands_on
from registry.desk.models import LastLook
from registry.desk.running import running_projects
from registry.permissions import STANDINGS, Role
from registry.questions.actions import park_question
from registry.questions.models import Question
from tests.worlds.animals import make_animals, make_group, make_restriction, make_taxon
from tests.worlds.approvals import make_asked, make_collecting
from tests.worlds.archive import make_dictionary
from tests.worlds.oversight import (
    make_enrolled,
    make_planned_session,
    make_requested_booking,
    make_use,
)
from tests.worlds.people import fresh, make_person
from tests.worlds.projects import lead_of, make_study
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db


def test_a_visitor_is_sent_to_sign_in(client: Client) -> None:
    for address in ("/", "/search/?q=rays", "/words/", "/help/"):
        answer = client.get(address)
        assert answer.status_code == 302
        assert answer["Location"].startswith("/sign-in/?next=")


@pytest.mark.postgres
@pytest.mark.parametrize("role", [*STANDINGS, ""])
def test_today_opens_for_every_role_and_says_the_day(client: Client, role: str) -> None:
    make_collecting()
    make_question()
    client.force_login(make_person(*([role] if role else [])))
    page = client.get("/").content.decode()
    assert f"{timezone.localdate():%A}" in page
    assert ("In use, at rest, out of bounds" in page) == (role in {"keeper", "curator", "vet"})
    assert ("Studies running" in page) == (role in {"curator", "supervisor"})


def test_only_the_soonest_step_is_filled_and_the_rest_is_folded(client: Client) -> None:
    for _ in range(10):
        make_question()
    for animal in make_animals(4, taxon=make_taxon()):
        make_restriction(animal, expected_end_on=timezone.localdate())
    client.force_login(make_person(Role.CURATOR))
    page = client.get("/").content.decode()
    assert "14 things need you" in page
    assert "2 more" in page
    assert len(re.findall(r'class="btn"', page)) == 1


def test_today_costs_the_same_queries_at_three_and_at_thirty(client: Client) -> None:
    person = make_person(*(role for role in STANDINGS if role != Role.STUDENT))
    taxon, world = make_taxon(), make_collecting()
    enrolled = make_enrolled(world, 1)
    animal = make_animals(1, taxon=world.taxon, enclosure=world.place)[0]

    def grow(n: int) -> int:
        for _ in range(n):
            make_question()
            park_question(make_question(), reason="later", by=world.curator)
            make_restriction(make_animals(1, taxon=taxon)[0], expected_end_on=timezone.localdate())
            make_planned_session(world, enrolled)
            make_requested_booking(world)
            make_use(world, animal=animal, severity=2)
            make_person()
        client.force_login(fresh(person))
        client.get("/")
        with CaptureQueriesContext(connection) as caught:
            assert client.get("/").status_code == 200
        return len(caught)

    assert grow(3) == grow(27)


def test_a_look_within_the_hour_is_the_same_look() -> None:
    keeper, now = make_person(Role.KEEPER), timezone.now()
    with time_machine.travel(now, tick=False):
        assert look(keeper) == now - timedelta(days=7)
    with time_machine.travel(now + timedelta(minutes=50), tick=False):
        assert look(keeper) == now + timedelta(minutes=50) - timedelta(days=7)
    with time_machine.travel(now + timedelta(hours=3), tick=False):
        assert look(keeper) == now
    with time_machine.travel(now + timedelta(hours=3, minutes=5), tick=False):
        assert look(keeper) == now
    last = LastLook.objects.get(person=keeper)
    assert (last.previous_at, last.looked_at) == (now, now + timedelta(hours=3))


@pytest.mark.postgres
def test_what_others_changed_is_told_in_words_and_ones_own_deeds_are_not() -> None:
    curator, keeper = make_person(Role.CURATOR), make_person(Role.KEEPER)
    before = timezone.now()
    question = make_question(asker=keeper, title="Do the gentoos take pebbles?")
    park_question(question, reason="no tanks", by=curator)
    (change,) = changes_since(before, fresh(keeper))
    assert change.text == "Parked: Do the gentoos take pebbles?"
    assert (change.by, change.url) == (curator.name, question.get_absolute_url())
    assert changes_since(timezone.now(), fresh(keeper)) == []


def test_changes_of_others_work_are_not_told_to_a_student_outside_it() -> None:
    before = timezone.now()
    world = make_collecting()
    stranger = make_person(Role.STUDENT)
    assert changes_since(before, stranger) == []
    assert "Collecting begins" in changes_since(before, fresh(world.student))[0].text


@pytest.mark.postgres
def test_animals_are_counted_out_of_bounds_first_then_in_use_then_at_rest() -> None:
    today = timezone.localdate()
    world = make_collecting()
    taxon = world.taxon
    make_enrolled(world, 3)
    barred, watched, _ = make_animals(3, taxon=taxon)
    make_restriction(barred)
    make_restriction(watched, strength="observation_only")
    make_group(taxon=taxon, males=1, females=2, unknown=3)
    shut = make_group(taxon=taxon, males=0, females=0, unknown=5)
    make_restriction(shut.enclosure)
    (stand,) = stands_on(today)
    assert (stand.in_use, stand.at_rest, stand.out_of_bounds) == (3, 2 + 6, 1 + 5)


@pytest.mark.postgres
def test_running_studies_are_listed_with_their_students_animals_and_hours() -> None:
    world = make_collecting()
    make_enrolled(world, 2)
    (project,) = running_projects(make_person(Role.SUPERVISOR))
    assert project.animals == 2
    assert [member.person for member in project.students] == [world.student]
    assert project.keeper_hours_week == 2


def test_search_shows_what_was_found_by_kind_and_says_what_to_do_when_nothing_was(
    client: Client,
) -> None:
    question = make_question(title="Do lumpfish change colour after dark?")
    make_animals(1, name="Lumpfish of the lobby")
    client.force_login(make_person(Role.KEEPER))
    page = client.get("/search/?q=lumpfish").content.decode()
    assert "Do <mark>lumpfish</mark> change colour after dark?" in page
    assert "Questions" in page
    assert "<mark>Lumpfish</mark> of the lobby" in page
    page = client.get("/search/?q=lumpfish&kind=animals.animal").content.decode()
    assert question.get_absolute_url() not in page
    page = client.get("/search/?q=narwhal").content.decode()
    assert "/questions/post/?title=narwhal" in page
    assert "Type a word or two" in client.get("/search/").content.decode()


@pytest.mark.postgres
def test_search_says_how_many_there_are_and_leads_to_all_of_a_kind(client: Client) -> None:
    for n in range(11):
        make_question(title=f"Lantern {n}")
    client.force_login(make_person(Role.KEEPER))
    page = client.get("/search/?q=lantern").content.decode()
    assert "11 things that you may see" in page
    assert page.count("<mark>Lantern</mark>") == 8
    assert "kind=questions.question" in page
    page = client.get("/search/?q=lantern&kind=questions.question").content.decode()
    assert page.count("<mark>Lantern</mark>") == 11


@pytest.mark.postgres
def test_search_leads_to_a_fields_row_in_its_dictionary(client: Client) -> None:
    dictionary = make_dictionary(make_study())
    client.force_login(make_person(Role.STUDENT))
    page = client.get("/search/?q=spiracles").content.decode()
    assert "Fields of dictionaries" in page
    (link,) = re.findall(rf'href="({dictionary.get_absolute_url()}#field-[^"]+)"', page)
    anchor = link.partition("#")[2]
    assert f'<tr id="{anchor}">' in client.get(link).content.decode()


@pytest.mark.postgres
def test_a_letter_wrong_is_told_in_words(client: Client) -> None:
    make_question(title="Does one gentoo hold more?")
    client.force_login(make_person(Role.KEEPER))
    page = client.get("/search/?q=gentto").content.decode()
    assert "Nothing is called “gentto”; close to it:" in page
    assert '<a href="?q=gentoo">gentoo</a>' in page


@pytest.mark.parametrize(
    "words", ["%22", "%27%27", "NEAR(a+b)", "*", "%3Cscript%3E", "%F0%9F%90%99", "a" * 5000]
)
def test_hostile_words_never_break_the_page(client: Client, words: str) -> None:
    client.force_login(make_person(Role.KEEPER))
    answer = client.get(f"/search/?q={words}&kind=no.such")
    assert answer.status_code == 200
    assert b"<script>" not in answer.content


def test_a_character_that_no_database_can_look_for_is_refused_in_words(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    answer = client.get("/search/?q=%00")
    assert answer.status_code == 400
    assert b"NUL character" in answer.content


def test_search_shows_only_what_one_may_see(client: Client) -> None:
    approval, _, _ = make_asked()
    client.force_login(make_person(Role.STUDENT))
    address = approval.get_absolute_url()
    assert address not in client.get("/search/?q=twelve+rays").content.decode()
    client.force_login(lead_of(approval.projects.get()))
    assert address in client.get("/search/?q=twelve+rays").content.decode()


def test_a_search_for_a_title_begins_the_question(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    page = client.get("/questions/post/?title=narwhal").content.decode()
    assert 'value="narwhal"' in page
    assert Question.objects.count() == 0


def test_words_and_help_open_and_say_where_the_cautions_stand(client: Client) -> None:
    client.force_login(make_person(Role.STUDENT))
    assert "experimental unit" in client.get("/words/").content.decode()
    page = client.get("/help/").content.decode()
    assert "CAUTION" in page
    assert "Never take a row out" in page


def test_help_leads_to_posting_a_question_only_whoever_may(client: Client) -> None:
    for role, may in ((Role.KEEPER, True), (Role.STUDENT, False), (Role.AUDITOR, False)):
        client.force_login(make_person(role))
        assert ("/questions/post/" in client.get("/help/").content.decode()) == may


def test_who_has_nothing_to_do_with_sessions_is_not_told_that_there_are_none(
    client: Client,
) -> None:
    for role, told in ((Role.STUDENT, True), (Role.ADMINISTRATOR, False)):
        client.force_login(make_person(role))
        assert ("Sessions today" in client.get("/").content.decode()) == told


@pytest.mark.parametrize("role", [Role.ADMINISTRATOR, Role.KEEPER])
def test_today_leads_an_administrator_to_people_and_to_how_the_site_runs(
    client: Client, role: Role
) -> None:
    client.force_login(make_person(role))
    shown = client.get("/").content.decode()
    leads = ['href="/people/"' in shown, 'href="/running/"' in shown]
    assert leads == [role == Role.ADMINISTRATOR] * 2
