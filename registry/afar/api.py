"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from rest_framework import serializers

from registry.afar.forms import CUSTODY_DEEDS, NEWS_DEEDS
from registry.afar.models import Custody, Dossier, News
from registry.rest import ObjectSerializer, ObjectViewSet, shows


@shows
class CustodySerializer(ObjectSerializer[Custody]):
    """A custody as the API shows it; `ended_on` is the first day on which it is over."""

    class Meta:
        model = Custody
        fields = (
            "id",
            "animal",
            "group",
            "case",
            "holder",
            "place",
            "answerable",
            "project",
            "why",
            "number",
            "began_on",
            "expected_end_on",
            "given_by",
            "recorded_at",
            "ended_on",
            "outcome",
            "end_note",
            "ended_by",
            "state",
        )


@shows
class DossierSerializer(ObjectSerializer[Dossier]):
    """A dossier as the API shows it: `content` is what `text`, whose digest is given, says."""

    content = serializers.JSONField(read_only=True)

    class Meta:
        model = Dossier
        fields = (
            "id",
            "animal",
            "group",
            "receiver",
            "sha256",
            "written_by",
            "written_at",
            "content",
            "text",
        )


@shows
class NewsSerializer(ObjectSerializer[News]):
    """News from afar as the API shows it; of the day only what `precision` says is known."""

    class Meta:
        model = News
        fields = (
            "id",
            "animal",
            "group",
            "follows",
            "generation",
            "sort",
            "happened_on",
            "precision",
            "number",
            "where",
            "said",
            "told_by",
            "recorded_at",
            "recorded_by",
            "state",
        )


class CustodyViewSet(ObjectViewSet[Custody]):
    """What is or was in a partner's custody; one is given on an animal or a group."""

    queryset = Custody.objects.select_related("animal", "group", "case")
    serializer_class = CustodySerializer
    deeds = CUSTODY_DEEDS
    filterset_fields: ClassVar[list[str]] = [
        "animal",
        "group",
        "case",
        "holder",
        "project",
        "state",
    ]
    ordering_fields: ClassVar[list[str]] = ["began_on", "expected_end_on", "ended_on"]


class DossierViewSet(ObjectViewSet[Dossier]):
    """Dossiers; one is written on an animal or a group."""

    queryset = Dossier.objects.select_related("animal", "group")
    serializer_class = DossierSerializer
    filterset_fields: ClassVar[list[str]] = ["animal", "group"]
    ordering_fields: ClassVar[list[str]] = ["written_at"]


class NewsViewSet(ObjectViewSet[News]):
    """News of those that have left; it is heard on an animal or a group."""

    queryset = News.objects.select_related("animal", "group", "follows")
    serializer_class = NewsSerializer
    deeds = NEWS_DEEDS
    filterset_fields: ClassVar[list[str]] = ["animal", "group", "sort", "state", "generation"]
    ordering_fields: ClassVar[list[str]] = ["happened_on", "recorded_at"]


OFFERED: dict[str, Any] = {
    "custodies": CustodyViewSet,
    "dossiers": DossierViewSet,
    "news": NewsViewSet,
}
