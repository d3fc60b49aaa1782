"""A printed page as the answer to a request, with the ledger's head at its foot."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpResponse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _

from registry.ledger.models import Entry
from registry.printing import pdf
from registry.saying import moment_said


def pdf_answer(
    template: Path,
    facts: Mapping[str, Any],
    *,
    name: str,
    pictures: Mapping[str, bytes] | None = None,
) -> HttpResponse:
    """Print facts and send them; `facts` holds at least `title`, and `over` where there is one.

    The site, the moment and the ledger's head are added: each copy elsewhere is an anchor.
    """
    made_at = timezone.now()
    told = {"over": "", **foot(made_at), **facts}
    answer = HttpResponse(
        pdf(template, told, made_at=made_at, pictures=pictures), content_type="application/pdf"
    )
    # To be kept, not shown: what is no page is sandboxed, and browsers show no PDF in a sandbox.
    answer["Content-Disposition"] = f'attachment; filename="{slugify(name) or "page"}.pdf"'
    return answer


def foot(made_at: Any) -> dict[str, str]:
    """Give what stands at the foot of every printed page."""
    head = Entry.objects.order_by("-number").values("number", "digest").first()
    return {
        "site": str(settings.SITE_NAME),
        "as_known": _("As known on %(moment)s.") % {"moment": moment_said(made_at)},
        "ledger": _("Ledger entry %(number)s, %(digest)s.") % head if head else "",
    }
