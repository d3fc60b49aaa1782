"""When each person last looked at Today, so that it can say what changed since."""

from typing import ClassVar

from django.conf import settings
from django.db import models


class LastLook(models.Model):
    """The newest ledger entry that a person had seen, and the one before that look."""

    kind: ClassVar[str] = "last_look"

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="last_look"
    )
    looked_at = models.DateTimeField()
    previous_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.person}'s last look"
