"""What this slice offers over the API: plural name to view set."""

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import serializers

from registry.animals.forms import (
    ADD_TAXON,
    ANIMAL_DEEDS,
    ENCLOSURE_DEEDS,
    GROUP_DEEDS,
    IMPORT,
    OPEN_ENCLOSURE,
    RECEIVE_ANIMAL,
    RECEIVE_GROUP,
    RESTRICTION_DEEDS,
)
from registry.animals.models import (
    Animal,
    Enclosure,
    Event,
    Group,
    Intake,
    Mark,
    Restriction,
    Taxon,
)
from registry.rest import ObjectSerializer, ObjectViewSet, shows
from registry.web import Deeds


@shows
class TaxonSerializer(ObjectSerializer[Taxon]):
    """A taxon as the API shows it."""

    class Meta:
        model = Taxon
        fields = ("id", "scientific_name", "common_name", "taxon_class", "source")


@shows
class EnclosureSerializer(ObjectSerializer[Enclosure]):
    """An enclosure as the API shows it."""

    class Meta:
        model = Enclosure
        fields = ("id", "code", "name", "is_on_show")


class MarkSerializer(serializers.ModelSerializer[Mark]):
    """A mark, within its animal."""

    class Meta:
        model = Mark
        fields = ("id", "sort", "said", "recorded_at", "ended_on")


class EventSerializer(serializers.ModelSerializer[Event]):
    """An event, within its animal or group; also those that were taken back."""

    class Meta:
        model = Event
        fields = (
            "id",
            "sort",
            "happened_on",
            "recorded_at",
            "recorded_by",
            "enclosure",
            "males",
            "females",
            "unknown",
            "note",
            "reverses",
        )


@shows
class AnimalSerializer(ObjectSerializer[Animal]):
    """An animal as the API shows it."""

    marks = MarkSerializer(many=True, read_only=True)
    events = EventSerializer(many=True, read_only=True)

    class Meta:
        model = Animal
        fields = (
            "id",
            "code",
            "name",
            "taxon",
            "sex",
            "life_stage",
            "born_on",
            "origin",
            "owner",
            "enclosure",
            "arrived_on",
            "left_on",
            "state",
            "marks",
            "events",
        )


@shows
class GroupSerializer(ObjectSerializer[Group]):
    """A counted group as the API shows it."""

    number = serializers.IntegerField(read_only=True)
    events = EventSerializer(many=True, read_only=True)

    class Meta:
        model = Group
        fields = (
            "id",
            "code",
            "name",
            "sort",
            "taxon",
            "life_stage",
            "owner",
            "enclosure",
            "males",
            "females",
            "unknown",
            "number",
            "arrived_on",
            "left_on",
            "state",
            "events",
        )


@shows
class RestrictionSerializer(ObjectSerializer[Restriction]):
    """A restriction as the API shows it; `ended_on` is the first day that is free again."""

    class Meta:
        model = Restriction
        fields = (
            "id",
            "animal",
            "group",
            "enclosure",
            "sort",
            "strength",
            "note",
            "began_on",
            "expected_end_on",
            "begun_by",
            "recorded_at",
            "ended_on",
            "ended_by",
            "state",
        )


@shows
class IntakeSerializer(ObjectSerializer[Intake]):
    """A file from which animals were brought in, and how many."""

    class Meta:
        model = Intake
        fields = (
            "id",
            "file_name",
            "sha256",
            "animals_brought",
            "groups_brought",
            "rows_known",
            "brought_at",
            "brought_by",
        )


class FaultSerializer(serializers.Serializer[Any]):
    """One thing to put right in a file: where, what, why, and what next."""

    row = serializers.IntegerField(allow_null=True)
    column = serializers.CharField()
    value = serializers.CharField()
    why = serializers.CharField()
    next = serializers.CharField()


class OutcomeSerializer(serializers.Serializer[Any]):
    """What would become of one row."""

    row = serializers.IntegerField()
    code = serializers.CharField()
    outcome = serializers.CharField()


class TrialSerializer(serializers.Serializer[Any]):
    """What would become of a file; nothing of it is written."""

    sha256 = serializers.CharField()
    seen = serializers.CharField()
    encoding = serializers.CharField()
    separator = serializers.CharField()
    unread_columns = serializers.ListField(child=serializers.CharField())
    asked = serializers.ListField(child=serializers.CharField())
    rows = serializers.IntegerField()
    new = serializers.IntegerField()
    same = serializers.IntegerField()
    differs = serializers.IntegerField()
    faulty = serializers.IntegerField()
    unknown_taxa = serializers.ListField(child=serializers.CharField())
    unknown_enclosures = serializers.ListField(child=serializers.CharField())
    faults = FaultSerializer(many=True)
    outcomes = OutcomeSerializer(many=True)


class TaxonViewSet(ObjectViewSet[Taxon]):
    """Kinds of animal."""

    queryset = Taxon.objects.all()
    serializer_class = TaxonSerializer
    creates = ADD_TAXON
    filterset_fields: ClassVar[list[str]] = ["taxon_class", "scientific_name"]
    ordering_fields: ClassVar[list[str]] = ["common_name", "scientific_name"]


class EnclosureViewSet(ObjectViewSet[Enclosure]):
    """Tanks, pools and runs."""

    queryset = Enclosure.objects.all()
    serializer_class = EnclosureSerializer
    deeds = ENCLOSURE_DEEDS
    creates = OPEN_ENCLOSURE
    filterset_fields: ClassVar[list[str]] = ["code", "is_on_show"]
    ordering_fields: ClassVar[list[str]] = ["code", "name"]


class AnimalViewSet(ObjectViewSet[Animal]):
    """Animals that are told apart."""

    queryset = Animal.objects.prefetch_related("marks", "events")
    serializer_class = AnimalSerializer
    deeds = ANIMAL_DEEDS
    creates = RECEIVE_ANIMAL
    starts: ClassVar[Deeds] = {IMPORT.path: IMPORT}
    trials: ClassVar[Mapping[str, Any]] = {IMPORT.path: TrialSerializer}
    filterset_fields: ClassVar[list[str]] = [
        "taxon",
        "enclosure",
        "sex",
        "life_stage",
        "state",
        "code",
        "owner",
    ]
    ordering_fields: ClassVar[list[str]] = ["code", "arrived_on", "left_on", "born_on"]


class GroupViewSet(ObjectViewSet[Group]):
    """Animals that are counted."""

    queryset = Group.objects.prefetch_related("events")
    serializer_class = GroupSerializer
    deeds = GROUP_DEEDS
    creates = RECEIVE_GROUP
    filterset_fields: ClassVar[list[str]] = [
        "taxon",
        "enclosure",
        "sort",
        "life_stage",
        "state",
        "code",
        "owner",
    ]
    ordering_fields: ClassVar[list[str]] = ["code", "arrived_on", "left_on"]


class RestrictionViewSet(ObjectViewSet[Restriction]):
    """Restrictions; one is begun by `restrict` on an animal, a group or an enclosure."""

    queryset = Restriction.objects.select_related("animal", "group", "enclosure")
    serializer_class = RestrictionSerializer
    deeds = RESTRICTION_DEEDS
    filterset_fields: ClassVar[list[str]] = [
        "animal",
        "group",
        "enclosure",
        "sort",
        "strength",
        "state",
    ]
    ordering_fields: ClassVar[list[str]] = ["began_on", "expected_end_on", "ended_on"]


class IntakeViewSet(ObjectViewSet[Intake]):
    """Files from which animals were brought in."""

    queryset = Intake.objects.all()
    serializer_class = IntakeSerializer
    filterset_fields: ClassVar[list[str]] = ["brought_by", "sha256"]
    ordering_fields: ClassVar[list[str]] = ["brought_at"]


OFFERED: dict[str, Any] = {
    "intakes": IntakeViewSet,
    "taxa": TaxonViewSet,
    "animals": AnimalViewSet,
    "groups": GroupViewSet,
    "enclosures": EnclosureViewSet,
    "restrictions": RestrictionViewSet,
}
