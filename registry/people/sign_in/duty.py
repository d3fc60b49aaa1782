"""The duty of a second factor: whoever owes one reaches nothing else until it is set up."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from registry.errors import NotPermitted
from registry.people.models import Person
from registry.web import person_of, refusal_page

OPEN = frozenset({"set_up_second_factor", "sign_out", "sign_in", "healthy"})
"""Addresses, by their names, that stay open to whoever owes a second factor."""


def owes(person: Person) -> bool:
    """Say whether one of their standings asks for a second factor; what one has is owed still."""
    return bool(settings.SECOND_FACTOR_FOR and settings.SECOND_FACTOR_FOR & person.roles)


class DutyMiddleware:
    """Leads a person who owes a second factor to the page where it is set up.

    It is asked of sessions alone: a program's token is no session, and has its own scope.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Hold the request where a second factor is owed and not set up."""
        if not settings.SECOND_FACTOR_FOR or not request.user.is_authenticated:
            return None
        person = person_of(request)
        if person.second_factor_on is not None or not owes(person):
            return None
        match = request.resolver_match
        if match is not None and match.url_name in OPEN:
            return None
        if request.path.startswith("/api/"):
            return refusal_page(
                request,
                NotPermitted(
                    "Nothing was done.",
                    "Your standing asks for a second factor, and you have none yet.",
                    "Open the site in a browser and set it up.",
                ),
            )
        return HttpResponseRedirect(reverse("set_up_second_factor"))
