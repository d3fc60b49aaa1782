"""The one table of the index; what the database adds to it stands in the migration."""

from typing import Any, ClassVar

from django.apps import apps
from django.db import models


class SearchDocument(models.Model):
    """What is known of one object to those who look for it, as written and as folded.

    Folded text is in small letters without accents or signs, words apart by one space, so that both
    databases find the same.
    """

    kind = models.CharField(max_length=60, help_text="The model's label: questions.question.")
    object_id = models.PositiveBigIntegerField()
    title = models.CharField(max_length=400)
    text = models.TextField(blank=True)
    url = models.CharField(max_length=300)
    folded_title = models.TextField()
    folded_text = models.TextField(blank=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["kind", "object_id"], name="one_document_of_an_object")
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def what(self) -> str:
        """What kind of thing it is, in a word."""
        return str(apps.get_model(self.kind)._meta.verbose_name)

    @property
    def many(self) -> str:
        """What many of its kind are, in a word."""
        return str(apps.get_model(self.kind)._meta.verbose_name_plural)
