"""Counting what is taken away, for the yearly report; a count that fails keeps nothing back."""

import logging
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.db import DatabaseError, transaction
from django.db.models import F, Sum
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone

from archive.models import Dataset, Taken, Version

logger = logging.getLogger(__name__)

type Served = Callable[..., HttpResponseBase]


def counted(form: Taken.Form) -> Callable[[Served], Served]:
    """Count each answer of a view that gives bytes of a version from their beginning."""

    def of(view: Served) -> Served:
        @wraps(view)
        def answered(request: HttpRequest, version: Version, **parts: Any) -> HttpResponseBase:
            answer = view(request, version, **parts)
            begins = answer.headers.get("Content-Range", "bytes 0-").startswith("bytes 0-")
            if request.method == "GET" and answer.status_code in {200, 206} and begins:
                count(version, form)
            return answer

        return answered

    return of


def count(version: Version, form: Taken.Form) -> None:
    """Add one to the count of today; no name is kept, and no entry is made."""
    try:
        with transaction.atomic():
            row, _is_new = Taken.objects.get_or_create(
                version=version, form=form, taken_on=timezone.localdate()
            )
            Taken.objects.filter(pk=row.pk).update(times=F("times") + 1)
    except DatabaseError:
        # Whoever reads is served, though the database be busy.
        logger.warning("A reading of %s was not counted.", version, exc_info=True)


def taken_of(dataset: Dataset) -> int:
    """Give how often any version of a dataset was taken away, in whole or in part."""
    rows = Taken.objects.filter(version__dataset=dataset)
    return rows.aggregate(all=Sum("times"))["all"] or 0
