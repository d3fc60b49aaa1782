"""The yearly return over the API."""

from typing import Any, ClassVar

from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.errors import Unsound
from registry.oversight.forms.returns import PUBLISH
from registry.oversight.models import ReturnCategory, YearReturn
from registry.oversight.returns import newest_edition, packed, reckoned, unpacked, years_asked
from registry.oversight.yearly import differences
from registry.permissions import Verb, require
from registry.rest import (
    LOOK_REFUSED,
    LookViewSet,
    ObjectSerializer,
    ObjectViewSet,
    RefusalSerializer,
    shows,
)
from registry.web import number_of


@shows
class YearReturnSerializer(ObjectSerializer[YearReturn]):
    """An edition of a return: rows of species, purpose, origin, severity, re-use, number."""

    class Meta:
        model = YearReturn
        fields = (
            "id",
            "year",
            "edition",
            "rows",
            "embryos",
            "procedures",
            "animals",
            "late_embryos",
            "note",
            "published_by",
            "published_at",
        )
        read_only_fields = fields


class MissingSerializer(serializers.Serializer[Any]):
    """What keeps a year from being published, by where it is said."""

    projects = serializers.ListField(child=serializers.IntegerField())
    enrolments = serializers.ListField(child=serializers.IntegerField())
    taxa = serializers.ListField(child=serializers.CharField())
    unclassified = serializers.IntegerField(help_text="Procedures without an actual severity.")


class UnpublishedSerializer(serializers.Serializer[Any]):
    """A year as the record stands now; rows as in an edition."""

    year = serializers.IntegerField()
    rows = serializers.JSONField()
    embryos = serializers.JSONField()
    procedures = serializers.IntegerField()
    animals = serializers.IntegerField(help_text="At their first use.")
    late_embryos = serializers.IntegerField()
    missing = MissingSerializer()
    newest_edition = serializers.IntegerField(allow_null=True, help_text="By its number `id`.")
    changed = serializers.JSONField(
        help_text="Rows that the newest edition gives differently: its number, then the one of now."
    )


def _year(given: str | None) -> int:
    """Give the year that was asked about; the one before this where none was."""
    years = years_asked()
    if given is None:
        return years[min(1, len(years) - 1)]
    year = number_of(given)
    if year not in years:
        why = _(
            "The record holds %(years)s to %(years_too)s; “%(given)s” is none of these years."
        ) % {"years": years[-1], "years_too": years[0], "given": given}
        raise Unsound(_NOT_COUNTED, why, "Ask for one of them: ?year=….", fields={"year": why})
    return year


def _unpublished(year: int) -> dict[str, Any]:
    try:
        found = reckoned(year)
    except LookupError:
        raise Unsound(
            _NOT_COUNTED,
            _("No list of categories is held that is as old as %(year)s.") % {"year": year},
            "A curator loads the reference data, on the page “Reference data”.",
        ) from None
    counted, gaps, held = found.counted, found.gaps, newest_edition(year)
    changed = differences(unpacked(held.rows), counted.rows) if held else []
    return {
        "year": year,
        "rows": packed(counted.rows),
        "embryos": packed(counted.embryos),
        "procedures": counted.procedures,
        "animals": counted.animals,
        "late_embryos": counted.embryos.total(),
        "missing": {
            "projects": sorted(gaps.projects),
            "enrolments": sorted(gaps.enrolments),
            "taxa": sorted(gaps.taxa),
            "unclassified": counted.unclassified,
        },
        "newest_edition": held.pk if held else None,
        "changed": [[*one.row, one.before, one.after] for one in changed],
    }


_NOT_COUNTED = "The return was not counted."


class YearReturnViewSet(ObjectViewSet[YearReturn]):
    """Published returns; every edition is kept."""

    queryset = YearReturn.objects.all()
    serializer_class = YearReturnSerializer
    creates = PUBLISH
    filterset_fields: ClassVar[list[str]] = ["year", "edition"]
    ordering_fields: ClassVar[list[str]] = ["year", "edition", "published_at"]

    @extend_schema(
        parameters=[OpenApiParameter("year", OpenApiTypes.INT, description="Else last year.")],
        responses={200: UnpublishedSerializer, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)},
        filters=False,
    )
    @action(detail=False, methods=["get"], filter_backends=[], pagination_class=None)
    def unpublished(self, request: Request) -> Response:
        """Give the return of a year as the record stands now, and what is missing in it."""
        person: Any = request.user
        require(person, Verb.USE_REVIEW)
        return Response(_unpublished(_year(request.query_params.get("year"))))


class ReturnCategorySerializer(serializers.ModelSerializer[ReturnCategory]):
    """A category of the yearly return."""

    class Meta:
        model = ReturnCategory
        fields = ("id", "code", "sort", "name", "from_year", "until_year", "source")


class ReturnCategoryViewSet(LookViewSet[ReturnCategory]):
    """The categories that a return asks for."""

    queryset = ReturnCategory.objects.all()
    serializer_class = ReturnCategorySerializer
    filterset_fields: ClassVar[list[str]] = ["sort", "code"]
