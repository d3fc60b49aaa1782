"""Marks, their photographs and what second readers saw, as the API offers them."""

from typing import Any, ClassVar

from django.http.response import HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request

from registry.animals.forms import MARK_DEEDS, PHOTOGRAPH_DEEDS
from registry.animals.identity_views import picture_answer
from registry.animals.models import Mark, Photograph, Reading
from registry.rest import LOOK_REFUSED, ObjectSerializer, ObjectViewSet, RefusalSerializer, shows
from registry.web import seen_or_404

_OF_A_MARK = (
    "id",
    "sort",
    "said",
    "side",
    "confidence",
    "seen_on",
    "recorded_at",
    "replaces",
    "ended_on",
    "state",
)


class MarkSerializer(serializers.ModelSerializer[Mark]):
    """A mark, within its animal."""

    class Meta:
        model = Mark
        fields = _OF_A_MARK


class ReadingSerializer(serializers.ModelSerializer[Reading]):
    """What a second reader saw, within its mark; `answer` is empty where they could not tell."""

    class Meta:
        model = Reading
        fields = ("id", "answer", "is_agreed", "confidence", "note", "reader", "read_at")


@shows
class WholeMarkSerializer(ObjectSerializer[Mark]):
    """A mark as the API shows it, with its photographs and its second readers."""

    readings = ReadingSerializer(many=True, read_only=True)

    class Meta:
        model = Mark
        fields = (*_OF_A_MARK, "animal", "recorded_by", "end_reason", "photographs", "readings")
        read_only_fields = fields


@shows
class PhotographSerializer(ObjectSerializer[Photograph]):
    """A photograph as the API shows it; its bytes are behind it, at large.jpg and small.jpg."""

    class Meta:
        model = Photograph
        fields = (
            "id",
            "mark",
            "side",
            "said",
            "taken_on",
            "taken_by",
            "sha256",
            "width_px",
            "height_px",
            "bytes",
            "recorded_at",
            "recorded_by",
            "withdrawn_because",
            "state",
        )


class MarkViewSet(ObjectViewSet[Mark]):
    """How animals are told apart; a mark is recorded by `mark` on its animal."""

    queryset = Mark.objects.prefetch_related("photographs", "readings")
    serializer_class = WholeMarkSerializer
    deeds = MARK_DEEDS
    filterset_fields: ClassVar[list[str]] = ["animal", "sort", "side", "said", "state"]
    ordering_fields: ClassVar[list[str]] = ["recorded_at", "seen_on", "ended_on"]


class PhotographViewSet(ObjectViewSet[Photograph]):
    """Photographs of marks; one is added by `photograph` on its mark, as multipart with `file`."""

    queryset = Photograph.objects.all()
    serializer_class = PhotographSerializer
    deeds = PHOTOGRAPH_DEEDS
    filterset_fields: ClassVar[list[str]] = ["mark", "mark__animal", "side", "state", "sha256"]
    ordering_fields: ClassVar[list[str]] = ["taken_on", "recorded_at"]

    @extend_schema(
        operation_id="photographs_picture",
        parameters=[OpenApiParameter("size", str, "path", enum=["large", "small"])],
        responses={
            (200, "image/jpeg"): OpenApiTypes.BINARY,
            **dict.fromkeys(LOOK_REFUSED, RefusalSerializer),
        },
    )
    @action(detail=True, methods=["get"], url_path=r"(?P<size>large|small)\.jpg")
    def picture(
        self, request: Request, pk: str | None = None, size: str = "large"
    ) -> HttpResponseBase:
        """Give the bytes of a photograph that was not withdrawn."""
        shown = seen_or_404(Photograph.objects.filter(state="kept"), request.user, pk)
        return picture_answer(shown, size)


OFFERED: dict[str, Any] = {"marks": MarkViewSet, "photographs": PhotographViewSet}
