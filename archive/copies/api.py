"""What the API tells of the copies and of the rounds through them; only to look at."""

from typing import ClassVar

from archive.copies.models import Copy, StoreRun
from registry.rest import ObjectSerializer, ObjectViewSet, shows


@shows
class CopySerializer(ObjectSerializer[Copy]):
    """A copy of a version as the API shows it."""

    class Meta:
        model = Copy
        fields = ("id", "version", "place", "made_at", "checked_at", "found", "aside", "state")


class CopyViewSet(ObjectViewSet[Copy]):
    """Where each version lies, and in what condition; those of erased versions are left out."""

    queryset = Copy.objects.kept().order_by("pk")
    serializer_class = CopySerializer
    filterset_fields: ClassVar[list[str]] = ["version", "place", "state"]
    ordering_fields: ClassVar[list[str]] = ["made_at", "checked_at"]


@shows
class StoreRunSerializer(ObjectSerializer[StoreRun]):
    """A round through the copies as the API shows it."""

    class Meta:
        model = StoreRun
        fields = (
            "id",
            "began_at",
            "ended_at",
            "made",
            "read",
            "bytes",
            "damaged",
            "mended",
            "left",
            "versions",
            "digest",
        )


class StoreRunViewSet(ObjectViewSet[StoreRun]):
    """The rounds that read every copy again: what each came to, the newest first."""

    queryset = StoreRun.objects.all()
    serializer_class = StoreRunSerializer
    ordering_fields: ClassVar[list[str]] = ["ended_at"]


OFFERED = {"copies": CopyViewSet, "store-runs": StoreRunViewSet}
