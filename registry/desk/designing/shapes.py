"""The shapes of what the design addresses of the API take and give."""

from typing import Any

from rest_framework import serializers

MOST_NAMES = 500


class Asked(serializers.Serializer[Any]):
    """What is sent to one of these addresses."""


def _name() -> serializers.CharField:
    return serializers.CharField(max_length=100)


def _names(said: str, least: int = 1) -> serializers.ListField:
    return serializers.ListField(
        child=_name(), min_length=least, max_length=MOST_NAMES, help_text=said
    )


def _seed() -> serializers.CharField:
    return serializers.CharField(
        required=False,
        max_length=64,
        help_text="64 hexadecimal digits; drawn and given back once where it is left out.",
    )


class DesignCautionSerializer(serializers.Serializer[Any]):
    """Something to weigh."""

    word = serializers.CharField()
    said = serializers.CharField()
    # `source` as an attribute would be the serializer's own.

    def get_fields(self) -> dict[str, Any]:
        """Add `source`."""
        return {**super().get_fields(), "source": serializers.CharField()}


class CurvePointSerializer(serializers.Serializer[Any]):
    """One point of a power curve."""

    n = serializers.IntegerField()
    total = serializers.IntegerField()
    power = serializers.FloatField()


class ChangedGuessSerializer(serializers.Serializer[Any]):
    """What becomes of the answer when one guessed number is another."""

    field = serializers.CharField()
    value = serializers.FloatField()
    n = serializers.IntegerField(allow_null=True)
    power = serializers.FloatField()


class CollectionOfferSerializer(serializers.Serializer[Any]):
    """What the collection can bear."""

    needed = serializers.IntegerField(allow_null=True)
    available = serializers.IntegerField()
    power = serializers.FloatField(allow_null=True)
    detectable = serializers.FloatField(allow_null=True)
    cohorts = serializers.IntegerField(allow_null=True)
    said = serializers.ListField(child=serializers.CharField())
    is_enough = serializers.BooleanField()


class SizedSerializer(serializers.Serializer[Any]):
    """An answer on replication."""

    asked = serializers.ChoiceField(choices=["n", "power", "effect"])
    n = serializers.IntegerField()
    unrounded = serializers.FloatField()
    total = serializers.IntegerField()
    effect = serializers.FloatField()
    power = serializers.FloatField()
    counted = serializers.CharField()
    effect_is = serializers.CharField()
    test = serializers.CharField()
    said = serializers.CharField()
    spread_from = serializers.CharField(allow_blank=True)
    assumptions = serializers.ListField(child=serializers.CharField())
    cautions = DesignCautionSerializer(many=True)
    curve = CurvePointSerializer(many=True)
    sensitivity = ChangedGuessSerializer(many=True)
    collection = CollectionOfferSerializer(required=False)

    def get_fields(self) -> dict[str, Any]:
        """Add `source`, which as an attribute would be the serializer's own."""
        return {**super().get_fields(), "source": serializers.CharField()}


class SaidSerializer(serializers.Serializer[Any]):
    """An answer in words, with its table."""

    said = serializers.CharField()
    notes = serializers.ListField(child=serializers.CharField())
    rows = serializers.ListField(child=serializers.DictField(child=serializers.CharField()))

    def get_fields(self) -> dict[str, Any]:
        """Add `source`, which as an attribute would be the serializer's own."""
        return {**super().get_fields(), "source": serializers.CharField()}


class ReachedSerializer(SaidSerializer):
    """What one animal in phases can reach."""

    assignments = serializers.IntegerField()
    smallest_p = serializers.FloatField()
    is_confirmatory = serializers.BooleanField()


class AllocateSerializer(Asked):
    """Who gets what."""

    method = serializers.ChoiceField(
        choices=[
            "complete",
            "blocked",
            "stratified",
            "permuted",
            "latin",
            "crossover",
            "phases",
            "minimised",
            "rerandomised",
        ]
    )
    arms = _names("Treatments; as many as rows for a Latin square.", 2)
    units = serializers.ListField(
        child=_name(), required=False, max_length=MOST_NAMES, help_text="Units, each once."
    )
    blocks = serializers.DictField(
        child=serializers.ListField(child=_name(), max_length=MOST_NAMES),
        required=False,
        help_text="Block or stratum to its units; for blocked and stratified.",
    )
    rows = serializers.ListField(child=_name(), required=False, max_length=26)
    columns = serializers.ListField(child=_name(), required=False, max_length=26)
    levels = serializers.DictField(
        child=serializers.DictField(child=_name()),
        required=False,
        help_text="Unit to its factors and levels; for minimised.",
    )
    covariates = serializers.DictField(
        child=serializers.ListField(child=serializers.FloatField(), max_length=20),
        required=False,
        help_text="Unit to its numbers; for rerandomised.",
    )
    sizes = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=100), required=False, max_length=10
    )
    sessions = serializers.IntegerField(
        required=False, min_value=2, max_value=1000, help_text="Of each unit; for phases."
    )
    phases = serializers.CharField(
        required=False, max_length=26, help_text="Of phases: letters in order, ABAB by default."
    )
    shortest = serializers.IntegerField(
        required=False, min_value=1, max_value=500, help_text="Of phases: least sessions of one."
    )
    share = serializers.FloatField(required=False, help_text="Of minimised: 0.8 by default.")
    accept = serializers.FloatField(required=False, help_text="Of rerandomised: 0.1 by default.")
    seed = _seed()
    codes = serializers.BooleanField(
        default=False, help_text="Whether each unit is also given a blinding code."
    )


class AllocatedUnitSerializer(serializers.Serializer[Any]):
    """What one unit was given."""

    unit = serializers.CharField()
    arm = serializers.CharField()
    block = serializers.CharField()
    sequence = serializers.ListField(child=serializers.CharField())
    code = serializers.CharField(required=False)


class AllocatedSerializer(serializers.Serializer[Any]):
    """An allocation; the seed is shown this once, and its digest can be shown to anyone."""

    method = serializers.CharField()
    places = AllocatedUnitSerializer(many=True)
    counts = serializers.DictField(child=serializers.IntegerField())
    notes = serializers.ListField(child=serializers.CharField())
    seed = serializers.CharField()
    commitment = serializers.CharField()
    digest = serializers.CharField()


class DaySlotSerializer(serializers.Serializer[Any]):
    """A time of day at which sessions may be held."""

    start = serializers.TimeField(help_text="In the collection's own time.")
    crowding = serializers.CharField(required=False, max_length=40, default="")


class BusyTimeSerializer(serializers.Serializer[Any]):
    """A time at which something else is on."""

    begins = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    what = serializers.CharField(max_length=200)
    animals = serializers.ListField(child=_name(), required=False, max_length=100)


class ScheduleSerializer(Asked):
    """When to look, at whom, in which order."""

    animals = serializers.ListField(child=_name(), min_length=1, max_length=60)
    days = serializers.ListField(child=serializers.DateField(), min_length=1, max_length=200)
    slots = serializers.ListField(child=DaySlotSerializer(), min_length=1, max_length=12)
    per_day = serializers.IntegerField(required=False, min_value=1, max_value=12)
    watched = serializers.IntegerField(required=False, min_value=1, max_value=60)
    length_min = serializers.IntegerField(default=30, min_value=1, max_value=1440)
    busy = serializers.ListField(child=BusyTimeSerializer(), required=False, max_length=500)
    seed = _seed()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a schedule that would take too long to balance."""
        cells = len(attrs["days"]) * len(attrs["slots"]) * len(attrs["animals"])
        if cells > 10_000:
            raise serializers.ValidationError(
                "Days times slots times animals are more than 10,000: plan in parts."
            )
        return attrs


class PlannedSessionSerializer(serializers.Serializer[Any]):
    """One session."""

    day = serializers.DateField()
    start = serializers.TimeField()
    crowding = serializers.CharField()
    order = serializers.ListField(child=serializers.CharField())


class ScheduledSerializer(serializers.Serializer[Any]):
    """A schedule, how even it is, and what was left out."""

    sessions = PlannedSessionSerializer(many=True)
    balance = serializers.ListField(child=serializers.CharField())
    left_out = serializers.ListField(child=serializers.CharField())
    seed = serializers.CharField()
    commitment = serializers.CharField()


class SimulateSerializer(Asked):
    """A study to be drawn thousands of times."""

    means = serializers.ListField(child=serializers.FloatField(), min_length=2, max_length=20)
    units = serializers.IntegerField(min_value=2, max_value=1000)
    per_unit = serializers.IntegerField(default=1, min_value=1, max_value=10_000)
    outcome = serializers.ChoiceField(choices=["measure", "share", "count"], default="measure")
    sd = serializers.FloatField(default=1.0)
    icc = serializers.FloatField(default=0.0)
    sd_units = serializers.FloatField(default=0.0)
    sd_blocks = serializers.FloatField(default=0.0)
    analysis = serializers.ChoiceField(
        choices=[
            "unit_t",
            "unit_welch",
            "unit_f",
            "unit_permutation",
            "unit_ranks",
            "block_t",
            "block_signs",
            "logit_t",
            "quasi_t",
            "animal_t",
            "animal_z",
            "count_z",
        ],
        help_text="The test that the plan names; the last three take for the unit what is none.",
    )
    alpha = serializers.FloatField(default=0.05)
    runs = serializers.IntegerField(default=10_000, min_value=100, max_value=100_000)
    seed = serializers.IntegerField(default=1, min_value=0, max_value=10_000_000)


class RateSerializer(serializers.Serializer[Any]):
    """A share of simulated studies, with its Monte Carlo error."""

    share = serializers.FloatField()
    error = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    runs = serializers.IntegerField()


class SimulatedSerializer(serializers.Serializer[Any]):
    """Power and type I error by simulation."""

    power = RateSerializer()
    type_one = RateSerializer()
    analysis = serializers.CharField()
    cautions = DesignCautionSerializer(many=True)
    seed = serializers.IntegerField()
    stream = serializers.CharField()
