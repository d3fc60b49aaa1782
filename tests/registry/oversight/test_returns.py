"""The return of a year: counted from regulated work, published, revised, taken along."""

import csv
import io
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from registry.approvals import actions as approvals
from registry.approvals.screens import Said
from registry.desk.actions import load_vocabulary
from registry.desk.vocabulary import read_lists
from registry.errors import Conflict, NotPermitted, Unsound
from registry.oversight import actions
from registry.oversight.models import Enrolment, ReturnCategory, YearReturn
from registry.oversight.returns import reckoned
from registry.permissions import Role
from tests.worlds.approvals import World, make_granted
from tests.worlds.oversight import make_enrolled, make_handling, make_use
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
YEAR = timezone.localdate().year
UNPUBLISHED = "/api/v1/year-returns/unpublished/"
LATER = datetime(YEAR + 1, 1, 20, 12, tzinfo=UTC)


def load() -> None:
    """Load the categories."""
    lists = [one for one in read_lists() if one.kind.name == "return_categories"]
    load_vocabulary(lists, by=make_person(Role.CURATOR))


def screen(world: World, *, effect: str = "reaches") -> None:
    """Screen the work of a world; what reaches the threshold is regulated."""
    approvals.screen_procedure(
        world.project,
        procedure=world.procedure,
        taxon=world.taxon,
        life_stage="adult",
        told=Said("uk", "scientific", effect),
        answer="regulated" if effect == "reaches" else "not regulated",
        reason="As the rules say.",
        by=world.chair,
    )


def category(code: str) -> ReturnCategory:
    return ReturnCategory.objects.get(code=code)


def done(world: World, n: int = 2) -> list[Enrolment]:
    """Give animals that were used once each, and have left the project."""
    enrolled = make_enrolled(world, n)
    for one in enrolled:
        make_use(world, one)
    return [
        actions.discharge_animal(
            one, left_on=timezone.localdate(), actual_severity=1, by=world.lead
        )
        for one in enrolled
    ]


def say(world: World) -> None:
    actions.say_purpose(
        world.project,
        purpose=category("applied-welfare"),
        origin=category("born-not-authorised"),
        by=world.lead,
    )


@pytest.mark.postgres
def test_only_regulated_work_that_has_ended_counts_in_the_year_in_which_it_ended() -> None:
    load()
    world, other = make_handling(), make_handling()
    screen(world)
    screen(other, effect="below")
    done(world)
    done(other)
    make_use(world, make_enrolled(world, 1)[0])  # it has not ended
    found = reckoned(YEAR)
    assert (found.counted.procedures, found.counted.animals) == (2, 2)
    assert found.gaps.projects == {world.project.pk}
    say(world)
    found = reckoned(YEAR)
    assert not found.gaps
    assert dict(found.counted.rows) == {
        ("other-fish", "applied-welfare", "born-not-authorised", 1, False): 2
    }
    assert reckoned(YEAR - 1).counted.procedures == 0


def test_an_animal_used_again_in_another_project_is_a_re_use_unless_it_continues() -> None:
    load()
    first, second = make_handling(), make_handling()
    second = make_handling(places=[first.place], taxon=first.taxon)
    screen(first)
    screen(second)
    left = done(first, 1)[0]
    ray = left.animal
    actions.release_booking(left.booking, by=first.curator)
    with time_machine.travel(timezone.now() + timedelta(days=1)):
        for world in (first, second):
            say(world)
        make_granted(second.project, kind="licence", reuse_consent="kind")
        approvals.decide_reuse(
            second.project,
            animal=ray,
            has_recovered=True,
            reason="It feeds.",
            by=make_person(Role.VET),
        )
        again = make_enrolled(second, animals=[ray])[0]
        make_use(second, again)
        actions.discharge_animal(
            again, left_on=timezone.localdate(), actual_severity=1, by=second.lead
        )
        year = timezone.localdate().year
        counted = reckoned(year).counted
        assert counted.reuses == 1
        actions.say_origin(
            again, origin=category("born-authorised"), is_continued=True, by=second.lead
        )
        assert reckoned(year).counted.reuses == 0


def test_what_nobody_enrolled_is_reported_too() -> None:
    load()
    world = make_handling()
    screen(world)
    say(world)
    enrolled = make_enrolled(world, 1)[0]
    stranger = make_enrolled(make_handling(places=[world.place], taxon=world.taxon), 1)[0].animal
    make_use(world, animal=stranger, severity=2)
    assert enrolled.animal != stranger
    rows = reckoned(YEAR).counted.rows
    assert [row[3] for row in rows] == [2]


def test_a_return_costs_as_many_queries_for_many_animals_as_for_one() -> None:
    load()
    counts = []
    for animals in (1, 6):
        world = make_handling()
        screen(world)
        say(world)
        done(world, animals)
        with CaptureQueriesContext(connection) as asked:
            reckoned(YEAR)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_category_of_another_list_is_refused_and_only_members_speak() -> None:
    load()
    world = make_handling()
    with pytest.raises(Unsound, match="place of birth"):
        actions.say_purpose(world.project, purpose=category("rest-of-world"), by=world.lead)
    with pytest.raises(NotPermitted):
        actions.say_purpose(
            world.project, purpose=category("training"), by=make_person(Role.KEEPER)
        )
    enrolled = make_enrolled(world, 1)[0]
    with pytest.raises(Unsound, match="purpose"):
        actions.say_origin(enrolled, origin=category("training"), by=world.lead)


def test_a_year_is_published_when_it_is_over_and_whole_and_a_revision_keeps_both() -> None:
    curator = make_person(Role.CURATOR)
    world = make_handling()
    with pytest.raises(Conflict, match="not over"):
        actions.publish_return(year=YEAR, by=curator)
    with time_machine.travel(LATER), pytest.raises(Conflict, match="No list"):
        actions.publish_return(year=YEAR, by=curator)
    load()
    screen(world)
    left = done(world)
    with time_machine.travel(LATER):
        with pytest.raises(NotPermitted):
            actions.publish_return(year=YEAR, by=world.lead)
        with pytest.raises(Conflict, match="1 projects"):
            actions.publish_return(year=YEAR, by=curator)
        say(world)
        first = actions.publish_return(year=YEAR, by=curator)
        assert (first.edition, first.procedures, first.animals) == (1, 2, 2)
        with pytest.raises(Conflict, match="Nothing differs"):
            actions.publish_return(year=YEAR, note="again", by=curator)
        actions.reverse_use(left[0].uses.get(), reason="Another ray.", by=world.student)
        with pytest.raises(Unsound, match="revise"):
            actions.publish_return(year=YEAR, by=curator)
        second = actions.publish_return(year=YEAR, note="One was another ray.", by=curator)
        assert (second.edition, second.procedures) == (2, 1)
        assert YearReturn.objects.get(pk=first.pk).procedures == 2
        page = Client()
        page.force_login(curator)
        shown = page.get(second.get_absolute_url()).content.decode()
        told: Any = page.get(UNPUBLISHED, {"year": YEAR})
        assert (told.json()["newest_edition"], told.json()["changed"]) == (second.pk, [])
        refused: Any = page.get(UNPUBLISHED, {"year": "1066"})
        assert (refused.status_code, "1066" in refused.json()["why"]) == (422, True)
        paper = page.get(f"{second.get_absolute_url()}return.pdf")
        assert paper.content.startswith(b"%PDF")
        assert "What differs" in shown
        assert "One was another ray." in shown


def test_the_page_names_what_is_missing_and_the_files_hold_the_same_rows() -> None:
    load()
    world = make_handling()
    screen(world)
    done(world)
    curator = Client()
    curator.force_login(make_person(Role.CURATOR))
    page = curator.get("/oversight/returns/", {"year": YEAR}).content.decode()
    assert "What is missing before it can be published" in page
    assert str(world.project) in page
    missing: Any = curator.get(UNPUBLISHED, {"year": YEAR})
    assert missing.json()["missing"]["projects"] == [world.project.pk]
    say(world)
    answer = curator.get("/oversight/returns/return.csv", {"year": YEAR})
    body = b"".join(answer).decode()  # type: ignore[arg-type]  # why: it is streamed
    (row,) = csv.DictReader(io.StringIO(body))
    assert (row["species"], row["severity"], row["procedures"]) == ("other-fish", "1", "2")
    paper = curator.get("/oversight/returns/return.pdf", {"year": YEAR})
    assert paper.content.startswith(b"%PDF")
    told: Any = curator.get(UNPUBLISHED, {"year": YEAR})
    rows = [["other-fish", "applied-welfare", "born-not-authorised", 1, False, 2]]
    assert (told.json()["rows"], told.json()["procedures"]) == (rows, 2)
    student = Client()
    student.force_login(world.student)
    assert student.get("/oversight/returns/return.csv", {"year": YEAR}).status_code == 403
    assert student.get(UNPUBLISHED, {"year": YEAR}).status_code == 403
    assert row["year"] == str(YEAR)
