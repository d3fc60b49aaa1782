"""The main page of each kind, held against axe: light and dark, on a phone and at a desk.

axe-core's rules are those of WCAG 2.2 A and AA and its own best practices; the rule set and the
classes of impact are documented at dequeuniversity.com/rules/axe.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core.files.base import ContentFile
from playwright.sync_api import Page

from archive.actions import pool_cohorts
from registry.animals.intake.keeping import keep
from registry.people.actions import give_standing
from registry.people.models import Person, the_clock
from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.animals import make_animal, make_intake, make_restriction
from tests.worlds.answers import make_answered, newest
from tests.worlds.approvals import make_asked, make_collecting
from tests.worlds.archive import (
    make_analysis,
    make_checked,
    make_like,
    make_opened,
    make_version,
    pooling_here,
    rows,
)
from tests.worlds.browsing import DESK, FINGER_PX, PHONE, SMALL, WIDER
from tests.worlds.oversight import (
    make_breach,
    make_confirmed_booking,
    make_held_session,
    make_planned_session,
    make_requested_booking,
)
from tests.worlds.people import fresh
from tests.worlds.projects import make_sealed
from tests.worlds.questions import make_question

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

type Addresses = dict[str, str]
ALL = (Role.KEEPER, Role.CURATOR, Role.VET, Role.STEWARD, Role.AUDITOR)
TANKS = "sd=1&icc=0.2&per_unit=15&effect=0.8"
SCHEDULED = (
    "animals=a,b,c&first=2027-05-03&last=2027-05-14&slots=10:00+quiet%0A14:00+busy&length_min=30"
    "&weekdays=0&weekdays=1&weekdays=2&weekdays=3&weekdays=4"
)
GRAVE = {"serious", "critical"}
AXE = Axe().axe_script
EVERYTHING = {"resultTypes": ["violations"]}
CONTRAST = {"runOnly": ["color-contrast", "link-in-text-block"], "resultTypes": ["violations"]}


def make_world() -> tuple[dict[str, Person | None], dict[str, Addresses]]:
    """Give who looks, and at which addresses, once there is something on each page."""
    version = make_version()
    world = make_collecting()
    project, sealed = world.project, make_sealed()
    for role in ALL:
        give_standing(world.lead, role=role, reason="To see every page.", by=the_clock())
    question = make_question()
    answered = make_answered(version=version)
    asked, chair, _ = make_asked()
    requested = make_requested_booking(world)
    confirmed = make_confirmed_booking(world)
    planned = make_planned_session(world)
    held = make_held_session(world)
    breach = make_breach(world)
    animal = make_animal(code="R-77", taxon=world.taxon, enclosure=world.place)
    restriction = make_restriction(animal)
    opened = make_opened(project, by=world.student)
    report = make_checked({"scans.csv": rows("1,R-01,someday,SLEEP,99")}, project=project)
    sound = make_checked(project=project)
    mapping = make_like(version.dictionary, by=fresh(world.lead))
    pool = pool_cohorts(
        version.dataset.project.study, table="scans", sources=[version], by=fresh(world.lead)
    )
    studies = f"/studies/projects/{project.pk}/"
    oversight = f"/oversight/projects/{project.pk}/"
    listed = ContentFile(b"code,taxon,enclosure,arrived_on\nA,Raja undulatta,T,2024-03-01\n")
    faulty = keep(listed, world.lead)
    row = f"A,{world.taxon.scientific_name},NEW,2024-03-01"
    looked_at = keep(ContentFile(f"code,taxon,enclosure,arrived_on\n{row}\n".encode()), world.lead)
    everyone = {
        "today": "/",
        "the steps to begin": "/begin/",
        "reference data": "/reference/",
        "bringing in a list": "/animals/import/",
        "a faulty list": f"/animals/import/{faulty.sha256}/",
        "a sound list": f"/animals/import/{looked_at.sha256}/",
        "what came in": make_intake().get_absolute_url(),
        "institutions": "/institutions/",
        "question list": "/questions/",
        "question": f"/questions/{question.pk}/",
        "answered question": f"/questions/{answered.pk}/",
        "taking a question on": f"/questions/{question.pk}/take_on/",
        "answer": newest(Question.objects.get(pk=answered.pk)).get_absolute_url(),
        "posting a question": "/questions/post/",
        "studies": "/studies/",
        "opening a study": "/studies/open/",
        "study": project.study.get_absolute_url(),
        "project": studies,
        "plan": f"{studies}plan/",
        "plan on one page": f"{studies}plan/page/",
        "version of a plan": f"{studies}plan/versions/1/",
        "allocation": sealed.get_absolute_url(),
        "designs": "/design/",
        "an answer on replication": f"/design/?design=tanks&{TANKS}",
        "an interval of a mean": "/design/?design=mean-width&sd=2&half_width=1",
        "who gets what": "/design/draw/allocate/?method=complete&arms=a,b&units=8",
        "when to look": f"/design/draw/schedule/?{SCHEDULED}",
        "drawn often": "/design/draw/simulate/?means=0,1&units=4&sd=1&analysis=unit_t",
        "assigning": f"{studies}assign/",
        "decision calendar": "/studies/approvals/calendar/",
        "requesting an approval": f"/studies/approvals/projects/{project.pk}/request_approval/",
        "approvals": "/studies/approvals/",
        "approval": world.approval.get_absolute_url(),
        "animals": "/animals/",
        "animal": animal.get_absolute_url(),
        "keeping off": f"{animal.get_absolute_url()}restrict/",
        "restriction": restriction.get_absolute_url(),
        "enclosure": world.place.get_absolute_url(),
        "bookings": "/oversight/bookings/",
        "booking": confirmed.get_absolute_url(),
        "offering": f"{requested.get_absolute_url()}offer/",
        "session": held.get_absolute_url(),
        "breaches": "/oversight/breaches/",
        "breach": breach.get_absolute_url(),
        "explaining": f"{breach.get_absolute_url()}explain/",
        "archive": "/archive/",
        "dictionary": opened.dictionary.get_absolute_url() if opened.dictionary else "",
        "mapping": mapping.get_absolute_url(),
        "proposing a mapping": f"{mapping.new.get_absolute_url()}propose_mapping/",
        "pooled table": f"{pool.get_absolute_url()}?by1=ray&of=depth&column1=depth&how1=is+filled",
        "fields": "/archive/fields/?q=depth",
        "what the next cohort begins with": f"/archive/{version.dataset_id}/next/",
        "publishing a dictionary": f"/archive/studies/{project.study_id}/write_dictionary/",
        "accepting": f"{sound.get_absolute_url()}accept/",
        "analysis": make_analysis(version).get_absolute_url(),
        "what can be asked": f"/archive/versions/{version.pk}/analyse/",
        "asking an analysis": f"/archive/versions/{version.pk}/analyse/?sort=budget&table=scans",
        "the report of a year": "/questions/report/",
        "closing": f"/questions/projects/{project.pk}/close/",
        "oversight": "/oversight/",
        "review": "/oversight/review/",
        "ledger": "/oversight/ledger/",
        "ledger entry": "/oversight/ledger/1/",
        "concern": "/oversight/concerns/raise/",
        "audits": "/oversight/audits/",
        "person": world.student.get_absolute_url(),
        "people": "/people/",
        "tokens": "/people/tokens/",
        "search": "/search/?q=rays",
        "words": "/words/",
        "help": "/help/",
        "nothing here": "/questions/9999/",
    }
    student = {
        "student's today": "/",
        "student's project": studies,
        "student's sessions": "/sessions/",
        "blank sheet": f"/sessions/{planned.pk}/sheet/",
        "mail and calendar": "/morning/",
        "enrolling": f"{confirmed.get_absolute_url()}enrol/",
        "planning a session": f"{oversight}plan_session/",
        "holding a session": f"{planned.get_absolute_url()}hold/",
        "recording a use": f"{oversight}record_use/",
        "upload": opened.get_absolute_url(),
        "report": report.get_absolute_url(),
        "liking": f"/questions/{question.pk}/like/",
    }
    nobody = {
        "sign-in": "/sign-in/",
        "password": "/password/forgotten/",
        "version": version.get_absolute_url(),
        "open archive": "/archive/",
        "anyone's concern": "/oversight/concerns/raise/",
    }
    lookers = {"everyone": fresh(world.lead), "student": world.student, "chair": chair}
    decide = {"deciding": asked.get_absolute_url()}
    return (
        {**lookers, "nobody": None},
        {"everyone": everyone, "student": student, "chair": decide, "nobody": nobody},
    )


@pytest.fixture
def pools_read_here() -> Iterator[None]:
    with pooling_here():
        yield


def let_in(page: Page, person: Person, address: str) -> None:
    """Give a window the session of someone who signed in."""
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.save()
    cookie = {"name": settings.SESSION_COOKIE_NAME, "value": session.session_key, "url": address}
    page.context.add_cookies([cookie])


def grave(page: Page, options: dict[str, Any]) -> Iterator[str]:
    """Give what axe finds on the page, as far as it is serious or critical."""
    found = page.evaluate("options => axe.run(document, options)", options)
    for one in found["violations"]:
        if one["impact"] in GRAVE:
            nodes = "; ".join(str(node["html"])[:160] for node in one["nodes"][:3])
            yield f"{one['id']}: {one['help']} ({len(one['nodes'])}): {nodes}"


def look(page: Page) -> Iterator[str]:
    """Look at one page in each width and scheme."""
    page.evaluate(AXE)
    for width in (PHONE, DESK):
        page.set_viewport_size(width)
        page.emulate_media(color_scheme="light")
        for said in grave(page, EVERYTHING):
            yield f"{width['width']}, light: {said}"
        page.emulate_media(color_scheme="dark")
        for said in grave(page, CONTRAST):
            yield f"{width['width']}, dark: {said}"
        wider = page.evaluate(WIDER)
        if wider > 0:
            yield f"{width['width']}: scrolls sideways by {wider} px"
        if width is PHONE and (small := page.evaluate(SMALL, FINGER_PX)):
            yield f"{width['width']}: too small to press: {small}"


def test_every_page_is_accessible(
    live_server: Any, new_context: Any, pools_read_here: None
) -> None:
    lookers, addresses = make_world()
    problems: list[str] = []
    seen = 0
    for name, person in lookers.items():
        page = new_context(base_url=live_server.url, reduced_motion="reduce").new_page()
        if person is not None:
            let_in(page, person, live_server.url)
        for kind, address in addresses[name].items():
            answer = page.goto(address)
            expected = 404 if kind == "nothing here" else 200
            if answer is None or answer.status != expected:
                problems.append(f"{kind} ({address}): {answer and answer.status}")
                continue
            problems += [f"{kind} ({address}), {said}" for said in look(page)]
            seen += 1
    assert not problems, "\n".join(problems)
    print(f"accessibility: {seen} pages ran")


def test_the_looks_can_fail(live_server: Any, new_context: Any) -> None:
    page = new_context(base_url=live_server.url, viewport=PHONE).new_page()
    page.goto("/sign-in/")
    assert list(look(page)) == []
    page.evaluate(
        "document.querySelector('main').innerHTML += '<p><img src=x><button>x</button></p>"
        "<div>wide</div>'"
    )
    page.evaluate("document.querySelector('main > div:last-child').style.width = '900px'")
    page.evaluate("document.querySelector('main > p button').style = 'all: unset; height: 9px'")
    said = " ".join(look(page))
    assert "image-alt" in said
    assert "scrolls sideways" in said
    assert "too small to press" in said
