"""Every address of the site, found in the resolver, with the objects that it is asked about."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.files.base import ContentFile
from django.db.models import Model
from django.urls import URLPattern, URLResolver, get_resolver, resolve

from archive.columnar import copy_of, tables_in
from archive.dictionaries import fields_by_id
from archive.forms import DEPOSIT_DEEDS
from archive.handing import FORMS
from archive.models import Analysis, Deposit, DepositFile, Dictionary, Version
from registry.animals.intake.keeping import keep
from registry.animals.models import Animal, Group, Taxon
from registry.desk.calendars import new_secret
from registry.desk.designing.draw_views import FORMS as DRAWN
from registry.desk.letters import off_link
from registry.ledger.models import subject_of
from registry.oversight.models import Session
from registry.people.models import ApiToken, Person
from registry.projects.models import Allocation, Project
from registry.web import Deeds
from tests.worlds.archive import lay_columns
from tests.worlds.site import Site


@dataclass(frozen=True)
class Address:
    """One pattern: its whole route, what it captures, and the view behind it."""

    route: str
    captures: frozenset[str]
    view: Callable[..., Any]
    pattern: URLPattern

    @property
    def is_api(self) -> bool:
        return self.route.startswith("api/")

    @property
    def model(self) -> type[Model] | None:
        """The kind of object that a page of deeds is about."""
        return getattr(self.view, "model", None)

    @property
    def offered(self) -> Deeds:
        """The deeds of a page of deeds."""
        found: Deeds = getattr(self.view, "offered", {})
        return found


def addresses() -> list[Address]:
    """Give every address, in the order in which they are tried."""
    get_resolver().check()
    return list(_walk(get_resolver().url_patterns, "", frozenset()))


def _walk(patterns: Any, before: str, captured: frozenset[str]) -> Iterator[Address]:
    for one in patterns:
        route = before + str(one.pattern)
        captures = captured | set(one.pattern.regex.groupindex)
        if isinstance(one, URLResolver):
            yield from _walk(one.url_patterns, route, captures)
        else:
            yield Address(route, frozenset(captures), one.callback, one)


def said(address: Address, given: Mapping[str, object]) -> str:
    """Write an address out, and see that it leads there; nothing where a page of its own does.

    Raises
    ------
    Shadowed
        When another page of deeds takes it.
    """
    path = _write(address, given)
    found = resolve(path)
    if found.func is address.view:
        return path
    if "path" in found.captured_kwargs or "path" not in given:
        raise Shadowed(f"{path} leads to {found.route}, not to {address.route}")
    return ""


class Shadowed(Exception):
    """An address that another one takes."""


def _write(address: Address, given: Mapping[str, object]) -> str:
    route = "/" + address.route.replace("^", "").replace("\\Z", "").replace("$", "").replace(
        "\\.", "."
    )
    out, rest = "", route
    while rest:
        for opened, closed in (("(?P<", ")"), ("<", ">")):
            if rest.startswith(opened):
                held, rest = rest[len(opened) :].split(closed, 1)
                name = held.split(">")[0] if opened == "(?P<" else held.split(":")[-1]
                out += str(given[name])
                break
        else:
            out, rest = out + rest[0], rest[1:]
    return out


def by_page(site: Site) -> dict[str, dict[str, Any]]:
    """Give, for each route that is an example's own page, what it captures there."""
    found = {}
    for example in site.examples.values():
        page = re.split("[?#]", getattr(example, "get_absolute_url", lambda: "")())[0]
        if page:
            match = resolve(page)
            if match.captured_kwargs:
                found[match.route] = match.captured_kwargs
    return found


def captures_for(
    address: Address, site: Site, pages: Mapping[str, Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Give what an address captures: one dict for each way in which it is to be asked.

    Raises
    ------
    KeyError
        When there is no object for it.
    """
    if not address.captures:
        return [{}]
    if address.route in OTHERS:
        given = OTHERS[address.route](site)
        return given if isinstance(given, list) else [dict(given)]
    if address.model is not None and address.captures == {"pk", "path"}:
        subject = site.examples[address.model]
        return [{"pk": subject.pk, "path": path} for path in address.offered]
    known = [route for route in pages if address.route.startswith(route.rstrip("$"))]
    given = dict(pages[max(known, key=len)]) if known else {}
    missing = address.captures - set(given)
    if missing:
        raise KeyError(f"{address.route} captures {sorted(missing)}, and no object is given for it")
    return [given]


def _version_file(site: Site) -> dict[str, object]:
    version = site[Version]
    name = next(name for name in version.manifest if name.startswith("data/"))
    return {"slug": version.slug, "name": name.removeprefix("data/")}


def lay_copy(version: Version) -> str:
    """Lay the typed copy of a table, as the worker does; give its name."""
    copied = copy_of(version, tables_in(version)[0])
    if version.state == "held":
        lay_columns(version)
    else:  # one that was left behind, which nobody is to be given
        copied.parent.mkdir(parents=True, exist_ok=True)
        copied.write_bytes(b"PAR1")
    return copied.stem


def _version_copy(site: Site) -> dict[str, object]:
    return {"slug": site[Version].slug, "name": lay_copy(site[Version])}


def _kept_list(site: Site) -> dict[str, object]:
    """Keep a list for everyone who may bring one in."""
    text = b"code,taxon,enclosure,arrived_on\nX1,Raja undulata,T1,2024-03-01\n"
    people = [one for one in site.people.values() if one.is_authenticated]
    kept = [keep(ContentFile(text, "list.csv"), one) for one in people]
    return {"sha256": kept[0].sha256}


def _of_version(**more: object) -> Callable[[Site], Mapping[str, Any]]:
    return lambda site: {"slug": site[Version].slug, **more}


OTHERS: dict[str, Callable[[Site], Any]] = {
    "password/set/<uidb64>/<token>/": lambda site: {"uidb64": "MQ", "token": "a-b"},
    "people/tokens/<int:pk>/revoke/": lambda site: {"pk": site[ApiToken].pk},
    "people/signing-in/passkeys/<int:pk>/remove/": lambda site: {"pk": site[Person].pk},
    "oversight/ledger/about/<str:subject>/": lambda site: {"subject": subject_of(site[Person])},
    "animals/import/<str:sha256>/": _kept_list,
    "animals/taxa/<int:pk>/kin/": lambda site: {"pk": site[Taxon].pk},
    "animals/taxa/<int:pk>/kinship.csv": lambda site: {"pk": site[Taxon].pk},
    "studies/projects/<int:pk>/plan/versions/<int:number>/": lambda site: {
        "pk": site[Allocation].plan.project_id,
        "number": 1,
    },
    "oversight/projects/<int:pk>/account/": lambda site: {"pk": site[Project].pk},
    "oversight/lifetime/animals/<int:pk>/": lambda site: {"pk": site[Animal].pk},
    "oversight/lifetime/groups/<int:pk>/": lambda site: {"pk": site[Group].pk},
    "design/draw/<slug:name>/": lambda site: [{"name": name} for name in DRAWN],
    "design/draw/<slug:name>/answer/": lambda site: [{"name": name} for name in DRAWN],
    "sessions/<int:pk>/sheet/": lambda site: {"pk": site[Session].pk},
    "sessions/<int:pk>/sheet/<str:table>.csv": lambda site: {
        "pk": site[Session].pk,
        "table": site[Dictionary].descriptor["resources"][0]["name"],
    },
    "morning/off/<str:signed>/": lambda site: {"signed": off_link(site[Person]).split("/")[-2]},
    "calendar/<slug:secret>.ics": lambda site: {"secret": new_secret(site[Person])},
    "archive/ark/<str:name>/": lambda site: {"name": site[Version].identifier.split("/")[-1]},
    "archive/fields/<str:mark>/": lambda site: {
        "mark": next(iter(fields_by_id(site[Dictionary].descriptor)))
    },
    "archive/dictionaries/<int:pk>/<str:table>.csv": lambda site: {
        "pk": site[Dictionary].pk,
        "table": site[Dictionary].descriptor["resources"][0]["name"],
    },
    "archive/deposits/<int:pk>/annotated/<str:table>.csv": lambda site: {
        "pk": site[Deposit].pk,
        "table": site[Dictionary].descriptor["resources"][0]["name"],
    },
    "archive/deposits/<int:pk>/files/<int:file>/": lambda site: {
        "pk": site[DepositFile].deposit_id,
        "file": site[DepositFile].pk,
    },
    "archive/deposits/<int:pk>/files/<int:file>/intake/": lambda site: {
        "pk": site[DepositFile].deposit_id,
        "file": site[DepositFile].pk,
    },
    "archive/analyses/<int:pk>/figures/<slug:name>.<slug:form>": lambda site: {
        "pk": site[Analysis].pk,
        "name": "budget",
        "form": "svg",
    },
    "archive/analyses/<int:pk>/analysis.<slug:form>": lambda site: [
        {"pk": site[Analysis].pk, "form": form} for form in FORMS
    ],
    "archive/deposits/<int:pk>/<slug:path>/": lambda site: [
        {"pk": site[Deposit].pk, "path": path} for path in DEPOSIT_DEEDS
    ],
    "archive/versions/<slug:slug>/data/<path:name>": _version_file,
    "archive/versions/<slug:slug>/spreadsheet/<path:name>": _version_file,
    "archive/versions/<slug:slug>/columns/<slug:name>.parquet": _version_copy,
    "archive/versions/<slug:slug>/workbook/<slug:name>.xlsx": _version_copy,
    "archive/versions/<slug:slug>/citation.<str:form>": _of_version(form="bib"),
}
"""What the addresses capture that are no example's own page, nor below one."""
