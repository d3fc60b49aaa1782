"""The ledger's one table."""

import json
from typing import Any, ClassVar

from django.apps import apps
from django.conf import settings
from django.db import models

from registry.ledger.chain import Link
from registry.permissions import Verb


class EntryQuerySet(models.QuerySet["Entry"]):
    """Reads of the ledger."""

    def about(self, obj: models.Model) -> "EntryQuerySet":
        """Entries whose subject is this object."""
        return self.filter(subject=subject_of(obj))


class Entry(models.Model):
    """One deed: who did what to which object, and when; never changed, never deleted."""

    kind: ClassVar[str] = "entry"
    reach: ClassVar[dict[str, str]] = {"project": "project_number", "actor": "actor"}

    number = models.PositiveBigIntegerField(primary_key=True)
    at = models.DateTimeField()
    verb = models.CharField(max_length=60)
    subject = models.CharField(max_length=80)
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="entries"
    )
    before = models.CharField(max_length=30, blank=True)
    after = models.CharField(max_length=30, blank=True)
    # A plain number, so that history outlives its subject and the ledger stands below the projects.
    project_number = models.PositiveBigIntegerField(null=True, blank=True)
    text = models.TextField()
    previous = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)
    reason = models.TextField(blank=True)
    salt = models.CharField(max_length=32, blank=True)
    is_confidential = models.BooleanField(default=False)

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["number"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["at"]),
            models.Index(fields=["subject", "number"]),
            models.Index(fields=["actor", "number"]),
            models.Index(fields=["project_number", "number"]),
        ]

    def __str__(self) -> str:
        return f"entry {self.number}"

    def get_absolute_url(self) -> str:
        """Give the address of the entry's page."""
        return f"/oversight/ledger/{self.number}/"

    @property
    def link(self) -> Link:
        """The entry as the chain sees it."""
        return Link(self.number, self.text, self.previous, self.digest)

    @property
    def facts(self) -> dict[str, Any]:
        """What was hashed, read."""
        read: dict[str, Any] = json.loads(self.text)
        return read

    @property
    def verb_said(self) -> str:
        """The deed in words."""
        return Verb(self.verb).label if self.verb in Verb.values else self.verb

    @property
    def subject_said(self) -> str:
        """The subject in words: question 12."""
        return name_said(self.subject)


def subject_of(obj: models.Model) -> str:
    """Give the subject's name as text, so that history outlives it: `questions.question:12`."""
    return f"{obj._meta.label_lower}:{obj.pk}"


def model_of(subject: str) -> tuple[type[models.Model], str] | None:
    """Give the model and the key that a subject's name holds; None where there is no such model."""
    label, _, pk = subject.rpartition(":")
    try:
        return apps.get_model(label), pk
    except (LookupError, ValueError):
        return None


def name_said(subject: str) -> str:
    """Write a subject's name in words: question 12."""
    found = model_of(subject)
    return f"{found[0]._meta.verbose_name} {found[1]}" if found else subject
