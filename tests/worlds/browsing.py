"""People in a browser: they sign in, and then only follow and press what the pages show."""

import re
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Locator, Page

from registry.people.models import Person
from tests.worlds.people import PASSWORD

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
FINGER_PX = 44
WAIT_MS = 8_000

WIDER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
SMALL = """least => [...document.querySelectorAll('main button, main a.btn, main summary')]
    .map(one => [one.innerText.trim(), one.getBoundingClientRect()])
    .filter(([said, box]) => box.width && (box.height < least || box.width < least))
    .map(([said, box]) => `${said}: ${box.width} x ${box.height}`)"""


@dataclass
class Visitor:
    """Someone with a browser window of their own."""

    person: Person
    page: Page
    is_on_phone: bool = False
    failed: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(WAIT_MS)
        self.page.on("response", self._note)

    def _note(self, response: Any) -> None:
        if response.status >= 400:
            self.failed.append(f"{response.status} {response.url}")

    @property
    def main(self) -> Locator:
        """The page without its head and foot."""
        return self.page.get_by_role("main")

    def sign_in(self) -> None:
        """Sign in at the door: the only address that is typed."""
        self.page.goto("/")
        self.page.get_by_label("E-mail").fill(self.person.email)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.looks_right()
        assert self.page.get_by_role("link", name=self.person.name).is_visible()

    def goes_to(self, *names: str) -> None:
        """Go to one of the places, and from there follow links by their names."""
        places = self.page.get_by_role("navigation", name="Places")
        places.get_by_role("link", name=names[0], exact=True).click()
        self.looks_right()
        for name in names[1:]:
            self.follows(name)

    def follows(self, name: str) -> None:
        """Follow the first link of that name."""
        self.main.get_by_role("link", name=name, exact=True).first.click()
        self.looks_right()

    def follows_first(self, words: str) -> None:
        """Follow the first link whose name has these words in it."""
        self.main.get_by_role("link", name=words).first.click()
        self.looks_right()

    def presses(self, name: str, refused: int = 0) -> None:
        """Press a button; where it is to be refused, with this status."""
        self.main.get_by_role("button", name=name, exact=True).click()
        if refused:
            assert self.failed, f"“{name}” was not refused"
            assert self.failed.pop().startswith(str(refused))
        self.looks_right()

    def types(self, **fields: str) -> None:
        """Fill fields in, each named by its label with underscores for spaces."""
        for label, value in fields.items():
            self.fills(label.replace("_", " "), value)

    def fills(self, label: str, value: str) -> None:
        """Fill one field in."""
        self._labelled(label).fill(value)

    def chooses(self, label: str, choice: str) -> None:
        """Choose from a list."""
        self._labelled(label).select_option(label=choice)

    def _labelled(self, label: str) -> Locator:
        return self.main.get_by_label(re.compile(rf"^\s*{re.escape(label)}(\s+optional)?\s*$"))

    def picks(self, *choices: str) -> None:
        """Tick boxes, or choose one of several, by the first words of their labels."""
        for choice in choices:
            said = re.compile(rf"^\s*{re.escape(choice)}")
            self.main.locator("label.pick", has_text=said).locator("input").check()

    def unpicks(self, *choices: str) -> None:
        """Take ticks away."""
        for choice in choices:
            said = re.compile(rf"^\s*{re.escape(choice)}")
            self.main.locator("label.pick", has_text=said).locator("input").uncheck()

    def reads(self, *texts: str) -> None:
        """See that each text stands on the page."""
        for text in texts:
            assert text in self.main.inner_text(), f"“{text}” is not on {self.page.url}"

    def offers(self, name: str) -> bool:
        """Say whether the page offers a link or a button of that name."""
        said = {"name": name, "exact": True}
        return bool(
            self.main.get_by_role("link", **said).count()
            or self.main.get_by_role("button", **said).count()
        )

    def looks_right(self) -> None:
        """See that the page came, fits its width and, on a phone, can be pressed with wet hands."""
        self.page.wait_for_load_state()
        assert not self.failed, f"{self.failed}\n{self.main.inner_text()[:1500]}"
        if self.is_on_phone:
            wider = self.page.evaluate(WIDER)
            assert wider <= 0, f"{self.page.url} scrolls sideways by {wider} px"
            small = self.page.evaluate(SMALL, FINGER_PX)
            assert not small, f"{self.page.url}: {small}"
