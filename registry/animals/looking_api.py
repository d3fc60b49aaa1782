"""What the API works out on a look: how it was on a day, and how related animals are."""

from collections.abc import Iterator
from typing import Any

from django.http import StreamingHttpResponse
from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.animals.forms import OnADay
from registry.animals.kin import effective_size, kinship_among
from registry.animals.kin.breeders import MOST_IN_SET
from registry.animals.kin_views import living_of, matrix_of
from registry.animals.models import Animal, Group, Taxon
from registry.animals.pedigrees import lineage_of
from registry.animals.relatives import HERITABILITIES
from registry.animals.then import lived_as_dicts, then_of
from registry.errors import TooLarge, Unsound
from registry.rest import LOOK_REFUSED, ObjectViewSet, RefusalSerializer
from registry.web import check_form, number_of, seen_or_404

LOOKED_AT = {200: OpenApiTypes.OBJECT, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)}
DAYS = [
    OpenApiParameter("on", OpenApiTypes.DATE, description="The day; today where none is given."),
    OpenApiParameter(
        "known", OpenApiTypes.DATE, description="Leave out what was recorded after this day."
    ),
]


def _asked(request: Request) -> tuple[Any, Any]:
    form = OnADay(request.query_params)
    check_form(form)
    return form.day, form.cleaned_data["known"]


def _seen(view: Any, pk: str | None) -> Any:
    """Give the object, if it may be seen; what is asked with it filters no list."""
    return seen_or_404(view.get_queryset().prefetch_related(None), view.request.user, pk)


class KeptViewSet[M: (Animal, Group)](ObjectViewSet[M]):
    """What animals and groups answer alike."""

    @extend_schema(parameters=DAYS, responses=LOOKED_AT)
    @action(detail=True, methods=["get"])
    def as_of(self, request: Request, pk: str | None = None) -> Response:
        """Give where it lived, of which sex and stage it was and what barred it on a day."""
        return Response(then_of(_seen(self, pk), *_asked(request)).as_dict())


def lived_on(view: Any, request: Request, pk: str | None) -> Response:
    """Answer who lived in an enclosure on a day."""
    day, known = _asked(request)
    enclosure = _seen(view, pk)
    lived = lived_as_dicts(enclosure, day, known, request.user)
    return Response({"on": day, "known_on": known, "lived_here": lived})


def kinship_of_chosen(view: Any, request: Request) -> Response:
    """Answer how related chosen animals are, by certain parents alone.

    Raises
    ------
    Unsound
        When one of them is no animal that may be seen.
    TooLarge
        When more are named than are reckoned at once.
    """
    what = "Their kinship was not worked out."
    named = list(dict.fromkeys(request.query_params.getlist("animal")))
    if len(named) > MOST_IN_SET:
        raise TooLarge(
            what,
            _("%(most_in_set)s are reckoned at once.") % {"most_in_set": f"{MOST_IN_SET:,}"},
            "Name fewer.",
        )
    keys = [number_of(one) or 0 for one in named]
    found = view.get_queryset().prefetch_related(None).in_bulk(keys)
    strange = [one for one, key in zip(named, keys, strict=True) if key not in found]
    if strange:
        why = _("No animal has the number %(strange)s.") % {"strange": ", ".join(strange)}
        raise Unsound(what, why, "Name them so: ?animal=1&animal=2.", fields={"animal": why})
    held = lineage_of({one.taxon_id for one in found.values()}, keys)
    kinship = kinship_among(held.pedigree, keys)
    return Response(
        {
            "animals": keys,
            "kinship": kinship,
            "effective_size": {
                str(share): effective_size(kinship, share) for share in HERITABILITIES
            },
            "uncertain": [key for key in keys if key in held.uncertain],
            "without_parents": [key for key in keys if not held.parents.get(key)],
        }
    )


def kinship_of_kind(taxon: Taxon, request: Request) -> StreamingHttpResponse:
    """Stream the kinship of all of a kind that live here: `kinship` is the lower triangle."""
    living = living_of(taxon, request.user)
    rows = matrix_of(taxon, living)

    def parts() -> Iterator[str]:
        yield f'{{"animals": {[one.pk for one in living]}, "kinship": ['
        for at, row in enumerate(rows):
            yield ("," if at else "") + str(row[: at + 1])
        yield "]}"

    return StreamingHttpResponse(parts(), content_type="application/json")
