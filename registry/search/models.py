"""The one table of the index; what the database adds to it stands in the migration."""

from typing import Any, ClassVar

from django.apps import apps
from django.db import models

FIELD = ".field"
"""What a kind is called by, where a part of it is meant."""


class SearchDocument(models.Model):
    """What is known of one object to those who look for it, as written and as folded.

    Folded text is in small letters without accents or signs, words apart by one space, so that both
    databases find the same.
    """

    kind = models.CharField(max_length=60, help_text="The model's label: questions.question.")
    object_id = models.PositiveBigIntegerField()
    part = models.CharField(
        max_length=120, blank=True, help_text="The place on its page; empty for the object itself."
    )
    title = models.CharField(max_length=400)
    text = models.TextField(blank=True)
    url = models.CharField(max_length=300)
    folded_title = models.TextField()
    folded_text = models.TextField(blank=True)
    keys = models.TextField(
        blank=True, help_text="Its identifiers without spaces and signs, a space around each."
    )
    taxon = models.PositiveBigIntegerField(
        null=True, blank=True, db_index=True, help_text="The number of the taxon it is about."
    )

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["kind", "object_id", "part"], name="one_document_of_a_part"
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def sort(self) -> str:
        """What it is found as: its kind, or a field of it."""
        return f"{self.kind}{FIELD}" if self.part else self.kind

    @property
    def what(self) -> str:
        """What kind of thing it is, in a word."""
        if self.part:
            return "field"
        return str(apps.get_model(self.kind)._meta.verbose_name)

    @property
    def many(self) -> str:
        """What many of its kind are, in a word."""
        return many_of(self.sort)


def many_of(sort: str) -> str:
    """Say what many of a sort are, in a word or two."""
    if sort.endswith(FIELD):
        return "fields of dictionaries"
    return str(apps.get_model(sort)._meta.verbose_name_plural)


class SearchWord(models.Model):
    """One word that the index holds, to find what was meant where a letter is wrong."""

    word = models.CharField(max_length=40, primary_key=True)

    def __str__(self) -> str:
        return self.word
