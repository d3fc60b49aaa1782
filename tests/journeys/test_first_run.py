"""From an empty, migrated database to the first question, study and project; by clicking alone.

The first administrator is made at a terminal, and passwords are set by the links that go out by
mail: those are the addresses that are typed, and no other.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from registry.animals.models import Animal, Group
from registry.ledger.models import Entry
from registry.ledger.proof import check as check_ledger
from registry.people.models import Person
from registry.projects.models import Project
from tests.worlds.browsing import DESK, PHONE, Visitor
from tests.worlds.people import PASSWORD

pytestmark = [
    pytest.mark.browser,
    pytest.mark.journey,
    pytest.mark.django_db(transaction=True),
]

BEGIN = "What the register still needs to begin"
QUESTION = "Do the rays rest less on busy days?"
STUDY = "Activity of undulate rays and visitors"
PEOPLE = {
    "Isla Rook": ("curator", "Skerrywick Aquarium"),
    "Tam Oduya": ("keeper", "Skerrywick Aquarium"),
    "Edda Lorn": ("supervisor", "Norrholm University"),
    "Sunniva Hale": ("student", "Norrholm University"),
    "Piers Vane": ("veterinary surgeon", "Skerrywick Aquarium"),
    "Noor Castellane": ("data steward", "Norrholm University"),
}
HEAD = "code;name;taxon;sex;life_stage;enclosure;arrived_on;sort;unknown"
ROWS = [
    *(f"UR-{n:02};Ray {n};Raja undulata;f;adult;T1;{n + 8:02}/03/2024;;" for n in range(1, 11)),
    "SO-01;;Sepia oficinalis;;juvenile;T2;2025-10-02;;",
    "CL-01;Lumpfish of the nursery;Cyclopterus lumpus;;juvenile;T2;2025-10-02;shoal;40",
]


@dataclass
class Site:
    """An empty site, and the windows of those who come to it."""

    open_window: Callable[[Any, bool], Visitor]
    url: str
    letters: list[Any]
    folder: Path
    windows: list[Visitor] = field(default_factory=list)

    def enters(self, name: str, link: str, *, is_on_phone: bool = False) -> Visitor:
        """Open a window at the link that sets a password, and sign in with it."""
        visitor = self.open_window(Person.objects.get(name=name), is_on_phone)
        self.windows.append(visitor)
        visitor.page.goto(link)
        visitor.looks_right()
        visitor.fills("New password", PASSWORD)
        visitor.main.get_by_label(re.compile("confirmation")).fill(PASSWORD)
        visitor.presses("Set the password")
        visitor.reads("Your password is set")
        visitor.fills("E-mail", visitor.person.email)
        visitor.fills("Password", PASSWORD)
        visitor.presses("Sign in")
        return visitor

    def link_to(self, name: str) -> str:
        """Give the link in the letter that went to someone."""
        email = Person.objects.get(name=name).email
        (letter,) = [one for one in self.letters if one.to == [email]]
        return re.search(r"http\S+/password/set/\S+", letter.body)[0]  # type: ignore[index]


@pytest.fixture
def site(
    live_server: Any, new_context: Any, settings: Any, mailoutbox: list[Any], tmp_path: Path
) -> Site:
    """Nothing is in the register, not even its clock."""
    settings.SITE_ADDRESS = live_server.url
    settings.UPLOADS = tmp_path / "uploads"
    assert not Entry.objects.exists()
    assert not Person.objects.exists()

    def open_window(person: Any, is_on_phone: bool) -> Visitor:
        context = new_context(
            base_url=live_server.url,
            viewport=PHONE if is_on_phone else DESK,
            java_script_enabled=not is_on_phone,
        )
        return Visitor(person, context.new_page(), is_on_phone)

    return Site(open_window, live_server.url, mailoutbox, tmp_path)


def test_an_empty_site_is_led_to_its_first_project(site: Site) -> None:
    try:
        administrator = first_administrator(site)
        institutions_and_people(administrator)
        lists_and_bodies(administrator)
        curator = site.enters("Isla Rook", site.link_to("Isla Rook"))
        animals(site, curator)
        induction(curator)
        first_question(site)
        first_study(site)
        steps(curator, done=10)
        curator.goes_to("Today")
        assert not curator.offers(BEGIN)
        faults, _ = check_ledger(with_subjects=True)
        assert faults == []
    except BaseException:
        for number, window in enumerate(site.windows):
            window.page.screenshot(path=site.folder / f"{number}.png", full_page=True)
        print(f"screenshots of every window: {site.folder}")
        raise


def first_administrator(site: Site) -> Visitor:
    """The page of an empty site says how, and the terminal gives the link."""
    stranger = site.open_window(None, False)
    site.windows.append(stranger)
    stranger.page.goto("/")
    stranger.reads("Nobody can sign in yet", "make_administrator")
    assert stranger.main.get_by_role("button").count() == 0
    said = StringIO()
    call_command("make_administrator", "Maren Tolliver", "maren@skerrywick.example", stdout=said)
    return site.enters("Maren Tolliver", said.getvalue().splitlines()[-1])


def steps(visitor: Visitor, *, done: int) -> None:
    """See on the page of the steps how many are done."""
    if done < 10:
        visitor.goes_to("Today", BEGIN)
    else:
        visitor.page.get_by_role("link", name="Help").click()
        visitor.follows("Begin, step by step")
    states = visitor.main.locator("ol.needs .state").all_inner_texts()
    assert len(states) == 10
    assert sum(one.strip() == "done" for one in states) == done, states


def take(visitor: Visitor, number: int) -> None:
    """Press the button of one step."""
    visitor.goes_to("Today", BEGIN)
    visitor.main.locator(f"#step-{number} a.btn").click()
    visitor.looks_right()


def institutions_and_people(administrator: Visitor) -> None:
    """The collection, its partner, and one person of each standing."""
    steps(administrator, done=0)
    for name, is_university in (("Skerrywick Aquarium", False), ("Norrholm University", True)):
        take(administrator, 1)
        administrator.fills("Name", name)
        if is_university:
            administrator.picks("It is a university")
        administrator.presses("Add the institution")
        administrator.reads(name)
    for name, (standing, home) in PEOPLE.items():
        take(administrator, 2)
        administrator.fills("Name", name)
        administrator.fills("E-mail", f"{name.lower().replace(' ', '.')}@skerrywick.example")
        administrator.chooses("Institution", home)
        administrator.presses("Add the person")
        administrator.follows("Give standing")
        administrator.chooses("Standing", standing)
        administrator.fills("Why they have it", "As their post asks.")
        administrator.presses("Give standing")
        administrator.reads(standing)
    steps(administrator, done=2)


def lists_and_bodies(administrator: Visitor) -> None:
    """The reference data, and a body with its chair and its quorum."""
    take(administrator, 3)
    administrator.presses("Load the lists")
    administrator.reads("Dated", "Kinds of body")
    take(administrator, 4)
    administrator.fills("Name", "Skerrywick research committee")
    administrator.chooses("Kind of body", "collection's research or ethics committee")
    administrator.chooses("Institution", "Skerrywick Aquarium")
    administrator.picks("It weighs welfare")
    administrator.presses("Set up the body")
    steps(administrator, done=4)  # with the taxa; the body has nobody yet
    administrator.reads("Without a chair or a quorum: Skerrywick research committee.")
    for name, is_chair in (("Piers Vane", True), ("Noor Castellane", False)):
        take(administrator, 4)
        administrator.chooses("Person", name)
        if is_chair:
            administrator.picks("As chair")
        administrator.presses("Seat a member")
    steps(administrator, done=5)


def animals(site: Site, curator: Visitor) -> None:
    """A list of twelve; one row is mended, and then all come in."""
    take(curator, 7)
    listed = site.folder / "animals.csv"
    listed.write_text("\n".join([HEAD, *ROWS]), encoding="cp1252")
    curator.main.get_by_label("File").set_input_files(listed)
    curator.presses("Look at its rows")
    curator.reads("1 thing to put right in the list", "Sepia oficinalis")
    curator.reads("Did you mean Sepia officinalis?", "semicolon", "as row 6 shows: 13/03/2024")
    assert not Animal.objects.exists()
    listed.write_text("\n".join([HEAD, *ROWS]).replace("oficinalis", "officinalis"), "cp1252")
    curator.main.get_by_label("File").set_input_files(listed)
    curator.presses("Look at its rows")
    curator.reads("12 rows to bring in", "to be received, in a new enclosure")
    curator.presses("Bring in 11 animals and 1 group", refused=422)
    curator.picks("Open these enclosures too")
    curator.presses("Bring in 11 animals and 1 group")
    curator.reads("11 animals and 1 group", "UR-10", "Lumpfish of the nursery")
    assert (Animal.objects.count(), Group.objects.count()) == (11, 1)
    steps(curator, done=7)


def induction(curator: Visitor) -> None:
    """The student is shown how to work beside the tanks."""
    take(curator, 8)
    curator.follows("Sunniva Hale")
    curator.follows("Record an induction")
    curator.fills("The place or the work", "the ray pools")
    today = timezone.localdate()
    curator.fills("Given on", today.isoformat())
    curator.fills("Holds until", today.replace(year=today.year + 1, day=1).isoformat())
    curator.presses("Record an induction")
    steps(curator, done=8)


def first_question(site: Site) -> None:
    """The keeper asks it, on the phone."""
    keeper = site.enters("Tam Oduya", site.link_to("Tam Oduya"), is_on_phone=True)
    keeper.goes_to("Questions", "Post a question")
    keeper.types(Your_question=QUESTION, Why_it_matters="They look restless.")
    keeper.types(Which_animals="undulate rays", What_would_change="Two quiet hours.")
    keeper.chooses("Kind of animal", "undulate ray")
    keeper.presses("Post the question")
    keeper.reads(QUESTION, "posted")


def first_study(site: Site) -> None:
    """The supervisor opens a study on it, and a cohort of it."""
    lead = site.enters("Edda Lorn", site.link_to("Edda Lorn"))
    lead.goes_to("Studies", "Open a study")
    lead.types(Title=STUDY, Aim="Tell whether the rays rest less on busy days.")
    lead.chooses("Taxon", "undulate ray")
    lead.picks(QUESTION)
    lead.presses("Open the study")
    lead.follows("Open a cohort")
    today = timezone.localdate()
    lead.types(Cohort="2026–27", First_day=str(today))
    lead.fills("Last day", str(today.replace(year=today.year + 1, day=1)))
    lead.chooses("Level of the student", "research master's")
    lead.presses("Open a cohort")
    lead.reads("2026–27")
    assert Project.objects.get().study.title == STUDY
