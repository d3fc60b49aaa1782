"""Limits told over the API: what a deed would be held against, and what it leaves."""

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.oversight.margins import Limited, Margin
from registry.projects.models import Procedure
from registry.rest import LOOK_REFUSED, RefusalSerializer


class MarginSerializer(serializers.Serializer[Any]):
    """One limit: what it allows, what is asked, and what would be left; see `left` for its unit."""

    permission = serializers.CharField()
    approval = serializers.IntegerField(allow_null=True)
    limited = serializers.ChoiceField(choices=list(Limited))
    about = serializers.CharField()
    allowed = serializers.CharField()
    asked = serializers.CharField()
    left = serializers.IntegerField(
        allow_null=True, help_text="Days, classes, animals or times, by what is limited."
    )
    is_kept = serializers.BooleanField()


ON = OpenApiParameter("on", OpenApiTypes.DATE, description="The day; else today.")
PROCEDURE = OpenApiParameter(
    "procedure", OpenApiTypes.INT, description="By its number; else each that is planned."
)


def looks_at_limits(*parameters: OpenApiParameter) -> Callable[[Any], Any]:
    """Give what makes a method answer with limits; it only looks."""
    described = extend_schema(
        parameters=list(parameters),
        responses={
            200: MarginSerializer(many=True),
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        },
        filters=False,
    )
    acted = action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    return lambda method: described(acted(method))


def day_of(request: Request) -> Any:
    """Give the day that was asked about; today where none was."""
    given = request.query_params.get("on", timezone.localdate().isoformat())
    return serializers.DateField().run_validation(given)


def procedure_of(request: Request) -> Any:
    """Give the procedure that was asked about; None where none was."""
    rows = serializers.PrimaryKeyRelatedField(queryset=Procedure.objects.all(), allow_null=True)
    return rows.run_validation(request.query_params.get("procedure"))


def told(found: Iterable[Margin]) -> Response:
    """Answer with limits."""
    return Response([asdict(one) for one in found])
