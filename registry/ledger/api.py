"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from django_filters import rest_framework as filters

from registry.ledger.models import Entry
from registry.rest import ObjectSerializer, ObjectViewSet, shows


class EntryFilter(filters.FilterSet):  # type: ignore[misc]  # why: it has no stubs
    """By subject, person, project, deed and moment."""

    project = filters.NumberFilter(field_name="project_number")
    at_after = filters.IsoDateTimeFilter(field_name="at", lookup_expr="gte")
    at_before = filters.IsoDateTimeFilter(field_name="at", lookup_expr="lt")

    class Meta:
        model = Entry
        fields = ("subject", "actor", "verb", "project", "at_after", "at_before")


@shows
class EntrySerializer(ObjectSerializer[Entry]):
    """An entry with the text that was hashed, so that the chain can be checked elsewhere."""

    class Meta:
        model = Entry
        fields = (
            "number",
            "at",
            "verb",
            "subject",
            "actor",
            "before",
            "after",
            "project_number",
            "reason",
            "text",
            "previous",
            "digest",
            "is_confidential",
        )


class EntryViewSet(ObjectViewSet[Entry]):
    """Every deed that was done; read only."""

    queryset = Entry.objects.all()
    serializer_class = EntrySerializer
    filterset_class = EntryFilter
    ordering_fields: ClassVar[list[str]] = ["number"]
    http_method_names = ["get", "head", "options"]


OFFERED: dict[str, Any] = {"ledger": EntryViewSet}
