"""What this slice offers over the API: plural name to view set."""

from typing import Any, ClassVar

from rest_framework import serializers

from registry.answers.forms import ANSWER_DEEDS, OUTPUT_DEEDS
from registry.answers.models import Answer, HusbandryAction, Output
from registry.rest import ObjectSerializer, ObjectViewSet, shows


class HusbandryActionSerializer(serializers.ModelSerializer[HusbandryAction]):
    """Something that keepers might do differently."""

    class Meta:
        model = HusbandryAction
        fields = ("id", "text", "owner", "due_on", "is_done", "outcome", "said_by", "said_at")


@shows
class AnswerSerializer(ObjectSerializer[Answer]):
    """An answer as the API shows it; the question's state says whether it was acknowledged."""

    actions = HusbandryActionSerializer(many=True, read_only=True)
    question_state = serializers.CharField(source="question.state", read_only=True)

    class Meta:
        model = Answer
        fields = (
            "id",
            "question",
            "question_state",
            "study",
            "summary",
            "sureness",
            "done",
            "left_open",
            "analysis",
            "figure_released_by",
            "figure_released_at",
            "evidence",
            "actions",
            "written_by",
            "written_at",
        )


class AnswerViewSet(ObjectViewSet[Answer]):
    """Plain summaries with their evidence, and what became of what they suggest."""

    queryset = Answer.objects.select_related("question").prefetch_related("actions", "evidence")
    serializer_class = AnswerSerializer
    deeds = ANSWER_DEEDS
    filterset_fields: ClassVar[list[str]] = ["question", "study", "written_by"]
    ordering_fields: ClassVar[list[str]] = ["written_at"]


@shows
class OutputSerializer(ObjectSerializer[Output]):
    """An output as the API shows it."""

    class Meta:
        model = Output
        fields = (
            "id",
            "project",
            "sort",
            "title",
            "authors",
            "published_on",
            "where",
            "identifier",
            "versions",
            "added_by",
            "added_at",
            "withdrawn_because",
            "state",
        )


class OutputViewSet(ObjectViewSet[Output]):
    """Dissertations, papers, posters and talks that came out of projects."""

    queryset = Output.objects.prefetch_related("versions")
    serializer_class = OutputSerializer
    deeds = OUTPUT_DEEDS
    filterset_fields: ClassVar[list[str]] = ["project", "sort", "state"]
    ordering_fields: ClassVar[list[str]] = ["published_on", "added_at"]


OFFERED: dict[str, Any] = {"answers": AnswerViewSet, "outputs": OutputViewSet}
