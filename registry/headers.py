"""Heads of every answer that no setting of Django's gives."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.csp import CSP

REFUSED_TO_PAGES = "camera=(), geolocation=(), microphone=(), payment=(), usb=()"
"""What a browser is told that no page of the site ever asks for."""
OF_NO_PAGE = "default-src 'none'; frame-ancestors 'none'; sandbox"
"""What is no page, such as a file that someone sent in, is shown without scripts, if it is shown at
all, and as a stranger to the site."""


class HeadersMiddleware:
    """Puts the heads on; it stands outermost, so that refusals and faults have them too."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on, and complete the answer."""
        answer = self.get_response(request)
        answer.headers.setdefault("Permissions-Policy", REFUSED_TO_PAGES)
        policy = str(CSP.HEADER_ENFORCE)
        is_page = answer.headers.get("Content-Type", "").startswith("text/html")
        if not is_page or policy not in answer.headers:
            answer.headers[policy] = OF_NO_PAGE
        return answer
