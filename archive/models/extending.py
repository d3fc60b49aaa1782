"""Mappings between dictionaries, and the tables that are pooled by them."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from archive.extending.rules import Mapped, Rule, rule_from_dict
from archive.lifecycle import MAPPING, POOL
from archive.models.holding import Dictionary, Version
from registry.lifecycle import Lifecycle
from registry.projects.models import Study

_PERSON = settings.AUTH_USER_MODEL


class DictionaryMappingQuerySet(models.QuerySet["DictionaryMapping"]):
    """Reads of mappings."""

    def accepted(self) -> "DictionaryMappingQuerySet":
        """Those that a second person reviewed, and that hold still."""
        return self.filter(state="accepted")


class DictionaryMapping(models.Model):
    """The rules that carry one table from a dictionary over to another; used once reviewed."""

    kind: ClassVar[str] = "mapping"
    lifecycle: ClassVar[Lifecycle] = MAPPING
    reach: ClassVar[dict[str, str]] = {"project": "new__study__projects", "proposer": "proposer"}

    old = models.ForeignKey(Dictionary, on_delete=models.PROTECT, related_name="mappings_from")
    new = models.ForeignKey(Dictionary, on_delete=models.PROTECT, related_name="mappings_to")
    old_table = models.CharField(max_length=200)
    table = models.CharField(max_length=200, help_text="Its name in the newer dictionary.")
    rules = models.JSONField(help_text="In their order, each with its kind.")
    reason = models.TextField(help_text="Why they hold.")
    proposer = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="mappings_proposed"
    )
    proposed_at = models.DateTimeField(default=timezone.now)
    reviewer = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="mappings_reviewed"
    )
    reviewed_at = models.DateTimeField(null=True, blank=True)
    review = models.TextField(blank=True, help_text="Why it was declined.")
    state = models.CharField(max_length=20, choices=MAPPING.choices, default=MAPPING.first)

    objects = DictionaryMappingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-proposed_at", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["old", "new", "old_table", "table"],
                condition=Q(state="accepted"),
                name="one_accepted_mapping_of_two_tables",
            )
        ]

    def __str__(self) -> str:
        old = f"{self.old_table} of {self.old}"
        return f"mapping of {old} to dictionary {self.new.number}"

    @property
    def as_rules(self) -> tuple[Rule, ...]:
        """The rules, as they are applied."""
        return tuple(map(rule_from_dict, self.rules))

    @property
    def said(self) -> list[str]:
        """The rules in words."""
        return [rule.said for rule in self.as_rules]

    @property
    def mapped(self) -> Mapped:
        """The record that goes with what it made; people stand in it by their numbers."""
        return Mapped(
            table=self.table,
            old=f"{self.old_id}",
            new=f"{self.new_id}",
            rules=self.as_rules,
            reason=self.reason,
            made_by=f"person {self.proposer_id}",
            reviewed_by=f"person {self.reviewer_id}" if self.reviewer_id else "",
        )

    def get_absolute_url(self) -> str:
        """Give the address of the mapping's page."""
        return f"/archive/mappings/{self.pk}/"


class PooledTable(models.Model):
    """One table over several versions: which they are, and by whose dictionary it is read.

    It holds no rows. They are read out of its sources whenever it is looked at, behind the same
    check as these.
    """

    kind: ClassVar[str] = "pool"
    lifecycle: ClassVar[Lifecycle] = POOL
    reach: ClassVar[dict[str, str]] = {
        "project": "study__projects",
        "sources": "sources",
        "maker": "maker",
    }

    study = models.ForeignKey(Study, on_delete=models.PROTECT, related_name="pools")
    dictionary = models.ForeignKey(
        Dictionary,
        on_delete=models.PROTECT,
        related_name="pools",
        help_text="It names, orders and explains the columns.",
    )
    table = models.CharField(max_length=200, help_text="Its name in that dictionary.")
    title = models.CharField(max_length=200)
    sources = models.ManyToManyField(Version, related_name="pools")
    mappings = models.ManyToManyField(DictionaryMapping, related_name="pools", blank=True)
    maker = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="pools_made")
    made_at = models.DateTimeField(default=timezone.now)
    withdrawn_because = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=POOL.choices, default=POOL.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    @property
    def gone(self) -> list[Version | DictionaryMapping]:
        """What it is read out of and was withdrawn since it was pooled."""
        versions = [one for one in self.sources.all() if one.state != "held"]
        mappings = [one for one in self.mappings.all() if one.state != "accepted"]
        return [*versions, *mappings]

    @property
    def is_stale(self) -> bool:
        """Whether something that it is read out of was withdrawn."""
        return bool(self.gone)

    def get_absolute_url(self) -> str:
        """Give the address of the pooled table's page."""
        return f"/archive/pools/{self.pk}/"
