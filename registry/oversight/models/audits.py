"""Audits of the record, and the points that must be answered."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import POINT, SAMPLED_USE
from registry.oversight.models.breaches import Breach
from registry.oversight.models.uses import Use

_PERSON = settings.AUTH_USER_MODEL


class Audit(models.Model):
    """A review of the record by an auditor."""

    kind: ClassVar[str] = "audit"
    reach: ClassVar[dict[str, str]] = {"opener": "opener"}
    searched: ClassVar[tuple[str, ...]] = ("scope",)

    title = models.CharField(max_length=200)
    scope = models.TextField()
    from_on = models.DateField("first day looked at", null=True, blank=True)
    to_on = models.DateField("last day looked at", null=True, blank=True)
    opener = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="audits")
    opened_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-opened_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the audit's page."""
        return f"/oversight/audits/{self.pk}/"


class Point(models.Model):
    """A point of an audit that someone must answer."""

    kind: ClassVar[str] = "point"
    lifecycle: ClassVar[Lifecycle] = POINT
    reach: ClassVar[dict[str, str]] = {"addressee": "addressee"}

    audit = models.ForeignKey(Audit, on_delete=models.PROTECT, related_name="points")
    text = models.TextField()
    breach = models.ForeignKey(
        Breach, on_delete=models.PROTECT, null=True, blank=True, related_name="points"
    )
    use = models.ForeignKey(
        Use, on_delete=models.PROTECT, null=True, blank=True, related_name="points"
    )
    addressee = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="points")
    due_on = models.DateField("answer due on", null=True, blank=True)
    written_at = models.DateTimeField(default=timezone.now)
    answer = models.TextField(blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=POINT.choices, default=POINT.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"point {self.pk} of {self.audit}"

    @property
    def is_overdue(self) -> bool:
        """Whether its answer is due and was not given."""
        today = timezone.localdate()
        return self.state == "written" and self.due_on is not None and self.due_on < today

    def get_absolute_url(self) -> str:
        """Give the address of the point's page."""
        return f"/oversight/points/{self.pk}/"


class AuditDraw(models.Model):
    """How uses came to be looked at: by chance with a seed, or on a ground of risk."""

    kind: ClassVar[str] = "audit_draw"
    reach: ClassVar[dict[str, str]] = {"opener": "audit__opener"}

    audit = models.ForeignKey(Audit, on_delete=models.PROTECT, related_name="draws")
    how = models.CharField(max_length=20, help_text="“chance”, or the ground.")
    seed = models.CharField(max_length=64, blank=True, help_text="64 hexadecimal digits.")
    size = models.PositiveIntegerField("asked for")
    of = models.PositiveIntegerField("out of")
    known_at = models.DateTimeField("as known at", default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"draw {self.pk} of {self.audit}"


class SampledUse(models.Model):
    """A use that an audit looks at: confirmed by its evidence, or doubted."""

    kind: ClassVar[str] = "sampled_use"
    lifecycle: ClassVar[Lifecycle] = SAMPLED_USE
    reach: ClassVar[dict[str, str]] = {"opener": "audit__opener"}

    audit = models.ForeignKey(Audit, on_delete=models.PROTECT, related_name="sampled")
    draw = models.ForeignKey(AuditDraw, on_delete=models.PROTECT, related_name="sampled")
    use = models.ForeignKey(Use, on_delete=models.PROTECT, related_name="sampled")
    evidence = models.TextField(blank=True, help_text="What was held beside the record.")
    looked_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=SAMPLED_USE.choices, default=SAMPLED_USE.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["audit", "use"], name="use_sampled_once_in_an_audit")
        ]

    def __str__(self) -> str:
        return f"{self.use} in {self.audit}"

    def get_absolute_url(self) -> str:
        """Give the address of its page."""
        return f"/oversight/sampled/{self.pk}/"
