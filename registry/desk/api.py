"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from registry.desk.forms import LOAD
from registry.desk.models import Vocabulary
from registry.rest import ObjectSerializer, ObjectViewSet, shows


@shows
class VocabularySerializer(ObjectSerializer[Vocabulary]):
    """A dated list of reference data, as it was last loaded."""

    class Meta:
        model = Vocabulary
        fields = ("id", "name", "dated", "source", "rows", "loaded_at", "loaded_by")


class VocabularyViewSet(ObjectViewSet[Vocabulary]):
    """The lists of reference data; to make one is to load them all."""

    queryset = Vocabulary.objects.all()
    serializer_class = VocabularySerializer
    creates = LOAD
    filterset_fields: ClassVar[list[str]] = ["name", "dated"]
    ordering_fields: ClassVar[list[str]] = ["name", "dated"]


OFFERED: dict[str, Any] = {"vocabularies": VocabularyViewSet}
