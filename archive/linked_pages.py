"""A version's linked data and links by themselves, for programs that do not read its page."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, JsonResponse
from django.http.response import HttpResponseBase
from django.views.decorators.http import require_safe

from archive.exports.linked import linkset
from archive.models import Version
from archive.serving import Withdrawal, reader_of, stone_of, version_of
from archive.signposts import address_of, linked_data, links_of
from registry.errors import Refusal
from registry.permissions import Verb, may


def _told(media: str, tell: Callable[[Version, bool], dict[str, Any]]) -> Callable[..., Any]:
    """Give the view that tells of a held version what its reader may know, as JSON."""

    @require_safe
    def told(request: HttpRequest, slug: str) -> HttpResponseBase:
        try:
            person = reader_of(request)
            version = version_of(slug, person)
            if version.state != "held":
                return JsonResponse(stone_of(version), status=Withdrawal.status)
            is_open = may(person, Verb.VERSION_READ, version)
            return JsonResponse(tell(version, is_open), content_type=media)
        except Refusal as refusal:
            return JsonResponse(refusal.as_dict(), status=refusal.status)

    return told


jsonld = _told(
    "application/ld+json", lambda version, is_open: linked_data(version, is_open=is_open)
)
link_list = _told(
    "application/linkset+json",
    lambda version, is_open: linkset(address_of(version), links_of(version, is_open=is_open)),
)
