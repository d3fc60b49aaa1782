import ast
import importlib.util
import re
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from babel.messages.pofile import read_po
from django.test import Client
from django.utils.translation import trans_real

from archive.models import Deposit, Version
from registry.animals.models import Animal, Group, Restriction
from registry.ledger.models import Entry
from registry.oversight.models import Booking, Breach, Enrolment, Session, Use
from registry.permissions import STANDINGS, Role
from tests.worlds.people import make_person
from tests.worlds.site import make_site

ROOT = Path(__file__).resolve().parents[2]
OTHER = "de"  # any language that has no catalogue of ours will do
OPEN, SHUT = "⟦", "⟧"


@pytest.fixture(scope="module")
def messages() -> ModuleType:
    where = importlib.util.spec_from_file_location("messages", ROOT / ".ci" / "messages.py")
    assert where
    assert where.loader
    module = importlib.util.module_from_spec(where)
    where.loader.exec_module(module)
    return module


def test_the_catalogue_holds_what_templates_forms_and_code_mark(messages, tmp_path, capsys):
    pot = tmp_path / "locale" / "django.pot"
    messages.main(pot)
    with pot.open("rb") as file:
        held = read_po(file)
    assert f"{len(held)} strings" in capsys.readouterr().out
    assert len(held) > 1000

    def places(words: str) -> list[str]:
        found = held.get(words)
        assert found, words
        return [place for place, _ in found.locations]

    template = "registry/animals/templates/animals"
    assert places("Across all projects. Passive watching is not counted.") == [
        f"{template}/_subject.html"
    ]
    assert places("its own, and its enclosure's while it lived there") == [
        f"{template}/_subject.html"
    ]
    assert "registry/animals/forms/barring.py" in places("What you saw")
    assert places("%(day)s, from deposit %(deposit)s") == [
        f"registry/oversight/templates/oversight/{name}.html" for name in ("breach", "breach_list")
    ]
    counted = held.get("%(number)s animal")
    assert counted.id == ("%(number)s animal", "%(number)s animals")
    assert "python-format" in counted.flags
    seen = held.get("One thing wants looking at.")  # a plural in a template
    assert seen.id[1] == "%(number)s things want looking at, the gravest first."


def test_no_string_that_is_not_marked_stands_in_the_catalogue(messages, tmp_path):
    code = tmp_path / "registry" / "made_up.py"
    code.parent.mkdir()
    code.write_text(
        'def f(): return _("Marked"), plain("Not marked"), pgettext("of a tank", "Full")'
    )
    held = messages.catalogue(tmp_path)
    assert sorted((one.context or "", one.id) for one in held if one.id) == [
        ("", "Marked"),
        ("of a tank", "Full"),
    ]


def test_what_a_refusal_says_is_gathered_as_it_stands(messages, tmp_path):
    code = tmp_path / "registry" / "made_up.py"
    code.parent.mkdir()
    code.write_text(
        '"""Sentences of a docstring are not said."""\n'
        'WHAT = "The pool was not filled."\n'
        'def f(): raise Conflict(WHAT, "It has a leak.", f"Mend {it} first.", code="no_pool")'
    )
    held = messages.catalogue(tmp_path)
    assert sorted(one.id for one in held if one.id) == [
        "It has a leak.",
        "The pool was not filled.",
    ]


def _fillings(messages: ModuleType, path: Path) -> list[str]:
    """Give where a refusal is given words with something put in that are not marked."""
    found = []
    for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(call, ast.Call) and getattr(call.func, "id", "") in messages.REFUSALS:
            for part in (part for one in call.args for part in ast.walk(one)):
                words = [one.value for one in getattr(part, "values", ()) if hasattr(one, "value")]
                if isinstance(part, ast.JoinedStr) and any(
                    isinstance(one, str) and re.search(r"[a-z]{2}", one) for one in words
                ):
                    found.append(f"{path.relative_to(ROOT)}:{part.lineno}")
    return found


def test_no_refusal_outside_of_the_sums_is_put_together_of_unmarked_words(messages):
    """The sums know nothing of the site's languages, so theirs are English wherever they stand."""
    rules = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    pure = next(one for one in rules["contracts"] if one["id"] == "pure")["source_modules"]
    paths = [path for path in messages.sources(ROOT) if path.suffix == ".py"]
    names = {path: ".".join(path.relative_to(ROOT).with_suffix("").parts) for path in paths}
    others = [
        path for path in paths if not any(f"{names[path]}.".startswith(f"{p}.") for p in pure)
    ]
    assert len(others) > 300
    assert [where for path in others for where in _fillings(messages, path)] == []


class Bracketed:
    """Translations that put every message between brackets, its placeholders as they are."""

    def gettext(self, message: str) -> str:
        # One and many, as the filter count takes them: each word for itself.
        words = re.split(r",(?! )", message)
        return ",".join(f"{OPEN}{word}{SHUT}" for word in words)

    def ngettext(self, one: str, many: str, number: int) -> str:
        return self.gettext(one if number == 1 else many)

    def pgettext(self, _context: str, message: str) -> str:
        return self.gettext(message)

    def npgettext(self, _context: str, one: str, many: str, number: int) -> str:
        return self.ngettext(one, many, number)

    def language(self) -> str:
        return OTHER

    def to_language(self) -> str:
        return OTHER


@pytest.fixture
def bracketed(monkeypatch, settings) -> None:
    """Let the site have a language in which every message stands between brackets."""
    settings.LANGUAGES = [*settings.LANGUAGES, (OTHER, "Bracketed")]
    monkeypatch.setitem(trans_real._translations, OTHER, Bracketed())


SPOKEN: tuple[tuple[Any, str], ...] = (
    ("/animals/", "<h1>⟦Which animals are in use, at rest or out of bounds?⟧</h1>"),
    (Animal, "⟦Hands-on contacts, whoever made them⟧"),
    (Group, "⟦Written males.females.unknown. Animals that were sexed leave the unknown"),
    (Restriction, "<dt>⟦Begun by⟧</dt>"),
    ("/animals/receive/", "⟦Which animal came?⟧"),
    ("/archive/", 'data-h="⟦Who may read it⟧"'),
    (Version, "<small>⟦Safe to open: no cell can act as a formula⟧</small>"),
    (Deposit, "<h1>⟦Which files belong to this deposit?⟧</h1>"),
    ("/oversight/", "<h1>⟦Is every animal used as was agreed?⟧</h1>"),
    ("/oversight/review/", "⟦Happened from "),
    (Booking, "<h1>⟦What is booked, and for when?⟧</h1>"),
    (Breach, ">⟦Breaches⟧</a>"),
    (Enrolment, ">⟦What was done with it in this project⟧</h2>"),
    (Session, ">⟦Blank sheet⟧</a>"),
    (Use, "⟦What was done with "),
    ("/oversight/ledger/", ">⟦Project number⟧"),
    (Entry, "<summary>⟦The text that was hashed⟧</summary>"),
    ("/running/", "<h1>⟦Does the site run as it should?⟧</h1>"),
)


@pytest.mark.django_db
def test_pages_speak_another_language_and_keep_what_stands_in_their_sentences(bracketed):
    site = make_site()
    client = Client(headers={"accept-language": OTHER})
    client.force_login(make_person(*STANDINGS))
    for asked, words in SPOKEN:
        address = asked if isinstance(asked, str) else site[asked].get_absolute_url()
        answer = client.get(address)
        page = answer.content.decode()
        assert answer.status_code == 200, address
        assert words in page, f"{address}: {words}"
        assert re.findall(r"%\(\w+\)", page) == [], address
        assert page.count(OPEN) == page.count(SHUT), address


@pytest.mark.django_db
def test_an_anchor_is_the_same_in_every_language(bracketed):
    client = Client(headers={"accept-language": OTHER})
    client.force_login(make_person(*STANDINGS))
    page = client.get("/animals/restrictions/").content.decode()
    assert '<section class="sec " id="restrictions"' in page
    assert ">⟦Restrictions⟧</h2>" in page


@pytest.mark.django_db
def test_a_refusal_speaks_another_language_too(bracketed):
    client = Client(headers={"accept-language": OTHER})
    client.force_login(make_person(Role.STUDENT))
    told = client.get("/api/oversight/uses/?project=none").json()
    assert all(told[name].startswith(OPEN) for name in ("what", "why", "next")), told
    assert f"<h1>{OPEN}" in client.get("/animals/groups/999999/").content.decode()
