"""A site that is being restored is not whole: it says so, and is served to nobody."""

from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import get_template

from archive.storage.disk import settle
from registry.errors import Closed

HEALTHY = "/healthy/"


def _mark() -> Path:
    return Path(settings.VAR) / "restoring"


def is_whole() -> bool:
    """Say whether no restore is under way or broke off here."""
    return not _mark().exists()


def open_up() -> None:
    """Say that the site is whole again."""
    _mark().unlink(missing_ok=True)
    settle(_mark().parent)


def close_down(said: str) -> None:
    """Say that the site is not whole until further notice; `said` is what is being restored."""
    _mark().parent.mkdir(parents=True, exist_ok=True)
    _mark().write_text(said + "\n", encoding="utf-8")
    settle(_mark().parent)


def refusal() -> Closed:
    """Give what is said meanwhile."""
    return Closed(
        "The site is closed.",
        "It is being restored from a backup, or a restore broke off, so that it is not whole.",
        "Wait until it is restored. Whoever runs it: give “manage.py restore FILE” again; it begins"
        " anew and opens the site when all is in its place.",
    )


class WholeMiddleware:
    """Answers everybody alike while the site is not whole; a monitor is told so too."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on when the site is whole."""
        if is_whole() or request.path == HEALTHY:
            return self.get_response(request)
        closed = refusal()
        if request.path.startswith("/api/"):
            return JsonResponse(closed.as_dict(), status=closed.status)
        # Without the request: who asks stands in a database that is not whole.
        page = get_template("refusal.html").render({"refusal": closed})
        return HttpResponse(page, status=closed.status)
