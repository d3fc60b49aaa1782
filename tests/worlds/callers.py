"""People who call the API over HTTP, as a program of theirs would, each with a token."""

from dataclasses import dataclass
from typing import Any

import requests
from django.core.management import call_command

from registry.people.actions import make_token
from registry.people.models import Person
from tests.worlds.people import PASSWORD

TIMEOUT_S = 60
SHAPE = {"code", "what", "why", "next"}


@dataclass(frozen=True)
class Caller:
    """Whoever calls; without a token anyone at all."""

    address: str
    token: str = ""

    def call(self, method: str, path: str, **more: Any) -> requests.Response:
        """Call an address of the API, or a whole path of the site."""
        address = f"{self.address}{path if path.startswith('/') else f'/api/v1/{path}'}"
        heads = {"Authorization": f"Token {self.token}"} if self.token else {}
        return requests.request(method, address, headers=heads, timeout=TIMEOUT_S, **more)

    def sees(self, path: str, **query: Any) -> Any:
        """Read something, and give what was answered."""
        answer = self.call("GET", path, params=query)
        assert answer.status_code == 200, f"{path}: {answer.status_code} {answer.text[:800]}"
        return answer.json()

    def lists(self, path: str, **query: Any) -> list[dict[str, Any]]:
        """Read a whole list, page after page."""
        query = {"page_size": 500, **query}
        found: list[dict[str, Any]] = []
        page = self.sees(path, **query)
        found += page["results"]
        while page["next"]:
            page = self.sees(path, **query, page=page["next"].partition("page=")[2].split("&")[0])
            found += page["results"]
        assert len(found) == page["count"]
        return found

    def does(self, path: str, /, files: Any = None, **given: Any) -> dict[str, Any]:
        """Do a deed, and give the object that it leaves."""
        answer = self._post(path, files, given)
        assert answer.status_code in {200, 201}, f"{path}: {answer.status_code} {answer.text[:800]}"
        shown: dict[str, Any] = answer.json()
        return shown

    def is_refused(
        self, status: int, path: str, /, files: Any = None, **given: Any
    ) -> dict[str, Any]:
        """Try a deed that is refused with this status, in the one shape; give the refusal."""
        answer = self._post(path, files, given)
        assert answer.status_code == status, f"{path}: {answer.status_code} {answer.text[:800]}"
        shown: dict[str, Any] = answer.json()
        assert set(shown) - {"fields"} == SHAPE, shown
        assert all(str(shown[key]).strip() for key in SHAPE), shown
        return shown

    def _post(self, path: str, files: Any, given: dict[str, Any]) -> requests.Response:
        if files is not None:
            return self.call("POST", path, files=files, data=given)
        return self.call("POST", path, json=given)


def caller_of(person: Person, address: str) -> Caller:
    """Give a person a token of their own, and call with it."""
    secret, _ = make_token(person, name="a program", days=366, scope="deeds", by=person)
    return Caller(address, secret)


def work_off_the_queue() -> None:
    """Run the worker until nothing waits."""
    call_command("db_worker", batch=True, interval=0, startup_delay=False, verbosity=0)


def sign_in(browser: requests.Session, address: str, person: Person) -> None:
    """Sign a person in as the page does, for what has no address in the API."""
    page = f"{address}/sign-in/"
    browser.get(page, timeout=TIMEOUT_S)
    given = {
        "username": person.email,
        "password": PASSWORD,
        "csrfmiddlewaretoken": browser.cookies["csrftoken"],
    }
    browser.post(page, data=given, headers={"Referer": page}, timeout=TIMEOUT_S)
    assert "sessionid" in browser.cookies
