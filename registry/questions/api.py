"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from registry.questions.forms import DEEDS, POST
from registry.questions.models import Question
from registry.rest import ObjectSerializer, ObjectViewSet, shows


@shows
class QuestionSerializer(ObjectSerializer[Question]):
    """A question as the API shows it."""

    class Meta:
        model = Question
        fields = (
            "id",
            "title",
            "why",
            "would_change",
            "animals",
            "taxon",
            "wanted_by",
            "asker",
            "posted_at",
            "level",
            "first_month",
            "last_month",
            "triage_reason",
            "merged_into",
            "state",
        )


class QuestionViewSet(ObjectViewSet[Question]):
    """Questions that staff raised."""

    queryset = Question.objects.all()
    serializer_class = QuestionSerializer
    deeds = DEEDS
    creates = POST
    filterset_fields: ClassVar[list[str]] = ["state", "level", "taxon", "asker"]
    ordering_fields: ClassVar[list[str]] = ["posted_at", "wanted_by"]


OFFERED: dict[str, Any] = {"questions": QuestionViewSet}
