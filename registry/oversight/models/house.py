"""What the house lays down by itself, whatever any approval says."""

from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Taxon
from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import REST_RULE, TRAINING_RULE
from registry.people.models import Training
from registry.projects.models import Procedure


class RestRuleQuerySet(models.QuerySet["RestRule"]):
    """Reads of rules of rest."""

    def in_force_within(self, first: Any, last: Any) -> "RestRuleQuerySet":
        """Rules that hold on any of these days; on the day on which one ended it does no longer."""
        return self.filter(from_on__lte=last).filter(Q(ended_on=None) | Q(ended_on__gt=first))


class RestRule(models.Model):
    """A rule of the house on rest: so many hands-on events in so many days, and no more."""

    kind: ClassVar[str] = "rest_rule"
    lifecycle: ClassVar[Lifecycle] = REST_RULE

    taxon = models.ForeignKey(
        Taxon, on_delete=models.PROTECT, null=True, blank=True, related_name="rest_rules"
    )
    most = models.PositiveSmallIntegerField(
        "hands-on events at most", validators=[MinValueValidator(1)]
    )
    days = models.PositiveSmallIntegerField(
        "in how many days", validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    why = models.TextField("reason")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="rest_rules"
    )
    from_on = models.DateField(default=timezone.localdate)
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=REST_RULE.choices, default=REST_RULE.first)

    objects = RestRuleQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["ended_on", "taxon__common_name", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(most__gte=1) & Q(days__gte=1) & Q(days__lte=365),
                name="rest_rule_of_some_days",
            )
        ]

    def __str__(self) -> str:
        return f"rule of rest {self.pk}"

    def get_absolute_url(self) -> str:
        """Give the address of the rule's page."""
        return f"/oversight/rest/{self.pk}/"


class TrainingRuleQuerySet(models.QuerySet["TrainingRule"]):
    """Reads of the trainings that are asked for."""

    def of_those(self) -> "TrainingRuleQuerySet":
        """Each with the rows that sentences name, in order."""
        return self.select_related("procedure", "training", "owner").order_by("pk")


class TrainingRule(models.Model):
    """That whoever does a procedure must hold a training on that day."""

    kind: ClassVar[str] = "training_rule"
    lifecycle: ClassVar[Lifecycle] = TRAINING_RULE

    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, related_name="training_rules"
    )
    training = models.ForeignKey(Training, on_delete=models.PROTECT, related_name="rules")
    why = models.TextField("reason")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="training_rules"
    )
    from_on = models.DateField(default=timezone.localdate)
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(null=True, blank=True)
    state = models.CharField(
        max_length=20, choices=TRAINING_RULE.choices, default=TRAINING_RULE.first
    )

    objects = TrainingRuleQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["ended_on", "procedure__name", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["procedure", "training"],
                condition=Q(ended_on=None),
                name="one_live_training_rule",
            )
        ]

    def __str__(self) -> str:
        return f"rule of training {self.pk}"

    def get_absolute_url(self) -> str:
        """Give the address of the rule's page."""
        return f"/oversight/training/{self.pk}/"

    def holds_on(self, day: Any) -> bool:
        """Say whether it holds on a day; on the day on which it ended it does no longer."""
        return bool(self.from_on <= day and (self.ended_on is None or day < self.ended_on))
