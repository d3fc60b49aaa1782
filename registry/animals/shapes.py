"""How the API writes each thing of the collection."""

from typing import Any

from rest_framework import serializers

from registry.animals.identity_api import MarkSerializer
from registry.animals.models import (
    Animal,
    Candidate,
    EggCase,
    Embryo,
    Enclosure,
    Event,
    Group,
    Intake,
    Loan,
    Parentage,
    Restriction,
    Routine,
    Taxon,
)
from registry.rest import ObjectSerializer, shows


@shows
class TaxonSerializer(ObjectSerializer[Taxon]):
    """A taxon as the API shows it."""

    protection_group = serializers.CharField(read_only=True)

    class Meta:
        model = Taxon
        fields = (
            "id",
            "scientific_name",
            "common_name",
            "other_names",
            "taxon_class",
            "protection_group",
            "source",
            "breeding",
            "period_least_d",
            "period_most_d",
            "period_source",
            "sperm_storage_d",
            "sperm_storage_source",
        )


class RoutineSerializer(serializers.ModelSerializer[Routine]):
    """What goes on at an enclosure every week, or did."""

    class Meta:
        model = Routine
        fields = ("id", "sort", "weekday", "begins", "ends", "note", "began_on", "ended_on")


@shows
class EnclosureSerializer(ObjectSerializer[Enclosure]):
    """An enclosure as the API shows it."""

    routines = RoutineSerializer(many=True, read_only=True)

    class Meta:
        model = Enclosure
        fields = ("id", "code", "name", "is_on_show", "opened_on", "keepers", "routines")


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
            "institution",
            "males",
            "females",
            "unknown",
            "is_estimated",
            "born_on",
            "sex",
            "life_stage",
            "measure",
            "value",
            "method",
            "is_positive",
            "number",
            "since_on",
            "cause",
            "note",
            "embryo",
            "partner",
            "reverses",
        )


class CandidateSerializer(serializers.ModelSerializer[Candidate]):
    """One of several animals that may be the parent."""

    class Meta:
        model = Candidate
        fields = ("animal",)


class ParentageSerializer(serializers.ModelSerializer[Parentage]):
    """A dam or a sire, or those that it may be; also what was held before."""

    candidates = CandidateSerializer(many=True, read_only=True)
    is_certain = serializers.BooleanField(read_only=True)

    class Meta:
        model = Parentage
        fields = (
            "id",
            "role",
            "parent",
            "candidates",
            "evidence",
            "is_certain",
            "note",
            "recorded_at",
            "replaced_at",
        )


@shows
class AnimalSerializer(ObjectSerializer[Animal]):
    """An animal as the API shows it."""

    marks = MarkSerializer(many=True, read_only=True)
    events = EventSerializer(many=True, read_only=True)
    parentage = ParentageSerializer(many=True, read_only=True)

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
            "born_precision",
            "origin",
            "owner",
            "enclosure",
            "drawn_from",
            "arrived_on",
            "left_on",
            "state",
            "marks",
            "parentage",
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
            "is_estimated",
            "born_on",
            "born_precision",
            "arrived_on",
            "left_on",
            "state",
            "events",
        )


class EmbryoSerializer(serializers.ModelSerializer[Embryo]):
    """An embryo, within its case; hatched, it names its animal."""

    parentage = ParentageSerializer(many=True, read_only=True)
    incubation_d = serializers.IntegerField(read_only=True, allow_null=True)

    class Meta:
        model = Embryo
        fields = (
            "id",
            "ordinal",
            "is_fertile",
            "outcome",
            "ended_on",
            "incubation_d",
            "animal",
            "parentage",
        )


@shows
class EggCaseSerializer(ObjectSerializer[EggCase]):
    """An egg case as the API shows it."""

    embryos = EmbryoSerializer(many=True, read_only=True)
    parentage = ParentageSerializer(many=True, read_only=True)
    events = EventSerializer(many=True, read_only=True)

    class Meta:
        model = EggCase
        fields = (
            "id",
            "code",
            "taxon",
            "clutch",
            "enclosure",
            "laid_on",
            "laid_precision",
            "ended_on",
            "state",
            "embryos",
            "parentage",
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
            "earliest_end_on",
            "inherited_from",
            "begun_by",
            "recorded_at",
            "ended_on",
            "ended_by",
            "state",
        )


@shows
class LoanSerializer(ObjectSerializer[Loan]):
    """A loan as the API shows it; an owner or holder that is null is this collection."""

    owner = serializers.IntegerField(source="owner.pk", read_only=True, allow_null=True)
    holder = serializers.IntegerField(source="holder.pk", read_only=True, allow_null=True)

    class Meta:
        model = Loan
        fields = (
            "id",
            "animal",
            "group",
            "direction",
            "owner",
            "holder",
            "began_on",
            "expected_end_on",
            "terms",
            "recorded_by",
            "recorded_at",
            "ended_on",
            "outcome",
            "end_note",
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
            "state",
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
