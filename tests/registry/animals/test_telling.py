"""Who is it? The sheet of a tank, on the page and in print, and who may see its pictures."""

import hashlib
import io
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image
from pypdf import PdfReader
from rest_framework.test import APIClient

from registry.animals import actions
from registry.animals.identity_views import MOST_ON_A_PAGE, agreement_said
from registry.animals.models import Enclosure
from registry.animals.pictures import keeping
from registry.animals.telling import sheet_of
from registry.animals.unmarked import due_on, young_unmarked
from registry.desk.needs import animals as needs
from registry.people.actions import make_token
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_enclosure, make_group
from tests.worlds.identity import make_mark, make_photograph, make_reading, sent
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def browser_of(*roles: str) -> Client:
    browser = Client()
    browser.force_login(make_person(*roles))
    return browser


def rays() -> tuple[Enclosure, Any, Any, Any]:
    """Give a tank with Morwen (a nick, a crescent), Skerry (a nick) and Tam, who has no mark."""
    tank = make_enclosure()
    morwen, skerry, tam = (make_animal(name=n, enclosure=tank) for n in ("Morwen", "Skerry", "Tam"))
    make_mark(morwen, said="Nick in the edge", side="right")
    make_mark(morwen, said="Pale crescent", side="left")
    make_mark(skerry, said="nick  in the EDGE", side="right")
    return tank, morwen, skerry, tam


# ------------------------------------------------------------------------------------ the sheet


@pytest.mark.postgres
def test_whoever_shows_more_of_what_was_seen_stands_first() -> None:
    tank, morwen, skerry, tam = rays()
    keeper = make_person(Role.KEEPER)
    sheet = sheet_of(tank, keeper)
    assert [one.animal for one in sheet.candidates] == [morwen, skerry, tam]
    # What two animals have stands once, and on its side.
    assert [(side, len(signs)) for side, signs in sheet.signs] == [("Left", 1), ("Right", 1)]
    nick = next(sign for side, signs in sheet.signs if side == "Right" for sign in signs)
    crescent = next(sign for side, signs in sheet.signs if side == "Left" for sign in signs)
    sheet = sheet_of(tank, keeper, [nick.key, crescent.key, "right:nonsense"])
    assert [(one.animal, one.matched) for one in sheet.best] == [(morwen, 2), (skerry, 1)]
    assert [one.animal for one in sheet.others] == [tam]
    assert sheet.n_seen == 2


def test_what_is_no_more_or_lives_elsewhere_is_not_on_it() -> None:
    tank, morwen, skerry, _tam = rays()
    vet = make_person(Role.VET)
    for mark in morwen.marks.all():
        actions.end_mark(mark, ended_on=days_ago(0), reason="Healed.", by=vet)
    actions.move_animal(
        skerry,
        enclosure=make_enclosure(),
        happened_on=days_ago(0),
        by=make_person(Role.CURATOR),
    )
    sheet = sheet_of(tank, vet)
    assert sheet.signs == []
    assert skerry not in [one.animal for one in sheet.candidates]


def test_what_it_costs_does_not_grow_with_the_animals() -> None:
    tank, morwen, *_ = rays()
    make_photograph(morwen.marks.all()[0])
    keeper = make_person(Role.KEEPER)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            sheet_of(tank, keeper)
        return len(asked)

    queries()  # whoever asks is looked up once
    few = queries()
    for n in range(4):
        make_photograph(make_mark(make_animal(enclosure=tank), said=f"Spot {n}"))
    assert queries() == few


def test_the_page_says_who_it_may_be_and_what_was_ticked() -> None:
    tank, morwen, *_ = rays()
    photograph = make_photograph(morwen.marks.all()[0], said="A nick <right>")
    make_group(enclosure=tank, name="The small fry")
    page = browser_of(Role.STUDENT).get(
        f"{tank.get_absolute_url()}who/", {"seen": "right:nick in the edge"}
    )
    words = page.content.decode()
    assert f"/animals/photographs/{photograph.pk}/small.jpg" in words
    assert 'alt="A nick &lt;right&gt;"' in words
    assert "1 of 1 seen" in words
    assert "The small fry" in words
    assert words.count("checked") == 1
    assert words.index("This is Morwen") < words.index("This is Skerry")


@pytest.mark.parametrize("number", [0, 3, 17, MOST_ON_A_PAGE])
def test_the_printed_sheet_of_up_to_forty_animals_is_one_page(number: int) -> None:
    tank, curator = make_enclosure(), make_person(Role.CURATOR)
    for n in range(number):
        animal = make_animal(name=f"Ray {n:02}", enclosure=tank, by=curator)
        if n < 3:
            make_photograph(make_mark(animal, said="Nick in the edge. " * 9, by=curator))
    answer = browser_of(Role.KEEPER).get(f"{tank.get_absolute_url()}who.pdf")
    made = PdfReader(io.BytesIO(answer.content))
    assert len(made.pages) == 1
    words = made.pages[0].extract_text()
    assert all(f"Ray {n:02}" in words for n in range(number))
    assert len(made.pages[0].images) == min(number, 3)


# ---------------------------------------------------------------------------------- photographs


def test_a_photograph_comes_in_over_its_form_and_is_shown_to_whoever_is_signed_in() -> None:
    mark = make_mark()
    browser = browser_of(Role.STUDENT)
    form = {"side": "right", "said": "Nick", "taken_on": days_ago(1).isoformat()}
    address = f"{mark.get_absolute_url()}photograph/"
    refused = browser.post(address, {**form, "file": io.BytesIO(b"no picture")})
    assert refused.status_code == 422
    assert "no whole picture" in refused.content.decode()
    assert browser.post(address, {**form, "file": sent().file}).status_code == 302
    photograph = mark.photographs.get()
    for size, sha256 in (("large", photograph.sha256), ("small", photograph.small_sha256)):
        answer = browser.get(f"{photograph.get_absolute_url()}{size}.jpg")
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.content == keeping.read(sha256)
        assert Image.open(io.BytesIO(answer.content)).size == (96, 64)
    assert Client().get(f"{photograph.get_absolute_url()}large.jpg").status_code == 302
    curator = make_person(Role.CURATOR)
    actions.withdraw_photograph(photograph, reason="A visitor is on it.", by=curator)
    assert browser.get(f"{photograph.get_absolute_url()}large.jpg").status_code == 404
    assert (
        photograph.get_absolute_url() not in browser.get(mark.get_absolute_url()).content.decode()
    )


def test_the_second_reader_is_not_told_whose_mark_it_is() -> None:
    animal, other = make_animal(name="Morwen"), make_animal(name="Tamsin")
    photograph = make_photograph(make_mark(animal, said="Nick in the edge"))
    browser = browser_of(Role.KEEPER)
    waiting = browser.get("/animals/marks/").content.decode()
    assert "Nick in the edge" in waiting
    assert "Morwen" not in waiting
    page = browser.get(f"{photograph.mark.get_absolute_url()}read/").content.decode()
    assert page.count("Morwen") == page.count("Tamsin") == 1  # among those to choose from
    answer = browser.post(
        f"{photograph.mark.get_absolute_url()}read/", {"answer": other.pk, "confidence": "likely"}
    )
    assert answer.status_code == 302
    assert "does not agree" in browser.get(photograph.mark.get_absolute_url()).content.decode()


def test_agreement_is_said_with_its_interval() -> None:
    # 177 of 180 "(>98 %)": a published agreement of two observers; Wilson's interval by hand.
    assert agreement_said(177, 180) == "177 of 180, 98.3 % (95 % interval 95.2 to 99.4)"
    assert agreement_said(0, 0) == ""


# ---------------------------------------------------------------------------------------- young


@pytest.mark.postgres
def test_young_without_a_mark_stand_soonest_due_first_until_one_is_recorded() -> None:
    born = {"life_stage": "juvenile", "arrived_on": days_ago(40)}
    later = make_animal(**born, born_on=days_ago(40))
    sooner = make_animal(**born, born_on=days_ago(80))
    unknown = make_animal(life_stage="hatchling", arrived_on=days_ago(60))
    make_animal(life_stage="adult")
    assert list(young_unmarked()) == [sooner, unknown, later]
    make_mark(sooner, sort="name", said="Pip", side="")
    assert young_unmarked()[0] == sooner
    words = browser_of(Role.KEEPER).get("/animals/unmarked/").content.decode()
    assert words.index(sooner.code) < words.index(unknown.code) < words.index(later.code)
    make_mark(sooner)
    assert list(young_unmarked()) == [unknown, later]


def test_today_tells_keepers_of_young_that_are_due_soon() -> None:
    today = timezone.localdate()
    due = make_animal(life_stage="juvenile", arrived_on=days_ago(80), born_on=days_ago(80))
    make_animal(life_stage="juvenile", arrived_on=days_ago(10), born_on=days_ago(10))
    (need,) = needs.to_tell_apart(make_person(Role.KEEPER), today)
    assert (need.due, due.name or due.code in need.what) == (due_on(days_ago(80)), True)
    assert need.url == f"/animals/{due.pk}/mark/"
    assert list(needs.to_tell_apart(make_person(Role.STUDENT), today)) == []


def test_a_mark_shows_who_read_it_and_what_took_its_place() -> None:
    mark = make_mark(said="Pale spots", seen_on=days_ago(300))
    make_reading(mark, mark.animal)
    newer = actions.replace_mark(
        mark,
        said="Brown bands",
        seen_on=days_ago(1),
        reason="Grown.",
        by=make_person(Role.KEEPER),
    )
    words = browser_of(Role.AUDITOR).get(mark.get_absolute_url()).content.decode()
    assert "1 of 1, 100.0 %" in words
    assert newer.get_absolute_url() in words


def test_a_program_with_a_token_sends_a_photograph_and_gets_it_by_the_same_check() -> None:
    mark, keeper = make_mark(), make_person(Role.KEEPER)

    def with_token(scope: str) -> APIClient:
        secret, _token = make_token(keeper, name="camera", days=1, scope=scope, by=keeper)
        api = APIClient()
        api.credentials(HTTP_AUTHORIZATION=f"Token {secret}")
        return api

    given = {"side": "left", "said": "A nick", "taken_on": days_ago(1).isoformat()}
    address = f"/api/v1/marks/{mark.pk}/photograph/"

    def send(api: APIClient, content: bytes) -> Any:
        file = SimpleUploadedFile("m.png", content)
        return api.post(address, {**given, "file": file}, format="multipart")

    reader, doer = with_token("read"), with_token("deeds")
    assert send(reader, sent(9).read()).status_code == 403
    assert send(doer, b"no picture").status_code == 422
    assert not mark.photographs.exists()
    made = send(doer, sent(9).read())
    assert made.status_code == 201
    photograph = mark.photographs.get()
    for size, digest in (("large", photograph.sha256), ("small", photograph.small_sha256)):
        picture = reader.get(f"/api/v1/photographs/{photograph.pk}/{size}.jpg")
        assert picture["Content-Type"] == "image/jpeg"
        assert hashlib.sha256(picture.content).hexdigest() == digest
    large = f"/api/v1/photographs/{photograph.pk}/large.jpg"
    assert APIClient().get(large).status_code == 401
    actions.withdraw_photograph(photograph, reason="another ray", by=make_person(Role.CURATOR))
    assert reader.get(large).status_code == 404


def test_the_sheet_says_what_to_do_where_there_is_no_signal() -> None:
    tank, *_rest = rays()
    page = browser_of(Role.KEEPER).get(f"{tank.get_absolute_url()}who/").content.decode()
    assert "No signal beside the tank?" in page
