"""When each person last looked, whether they are written to in the morning, and their calendar."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Restriction

_PERSON = settings.AUTH_USER_MODEL


class LastLook(models.Model):
    """The newest ledger entry that a person had seen, and the one before that look."""

    kind: ClassVar[str] = "last_look"

    person = models.OneToOneField(_PERSON, on_delete=models.CASCADE, related_name="last_look")
    looked_at = models.DateTimeField()
    previous_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.person}'s last look"


class Vocabulary(models.Model):
    """One dated list of reference data, as it was last loaded."""

    kind: ClassVar[str] = "vocabulary"

    name = models.SlugField(max_length=40, unique=True)
    dated = models.DateField()
    source = models.TextField()
    rows = models.PositiveIntegerField()
    loaded_at = models.DateTimeField(auto_now=True)
    loaded_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="vocabularies_loaded"
    )

    # How many rows the load that gave this object wrote; no columns.
    new = changed = 0

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        verbose_name_plural = "vocabularies"

    def __str__(self) -> str:
        return self.name.replace("_", " ")

    def get_absolute_url(self) -> str:
        """Give the place of the list on the page of the reference data."""
        return f"/reference/#{self.name}"


class MailChoice(models.Model):
    """Whether a person is written to in the morning; without a row it is every day."""

    kind: ClassVar[str] = "mail_choice"

    class How(models.TextChoices):
        """When someone is written to."""

        DAILY = "daily", _("every morning on which something needs me, or changed")
        DUE = "due", _("only when something is late, or due within two days")
        NEVER = "never", _("never")

    person = models.OneToOneField(_PERSON, on_delete=models.CASCADE, related_name="mail_choice")
    how = models.CharField(max_length=10, choices=How, default=How.DAILY)
    changed_at = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"{self.person}: {self.get_how_display()}"


class Posted(models.Model):
    """That a letter was seen to: the row is claimed before anything is sent."""

    kind: ClassVar[str]

    class Outcome(models.TextChoices):
        """What became of it."""

        WAITING = "waiting", _("not begun")
        CLAIMED = "claimed", _("begun; if it stays so, nobody knows whether it went out")
        SENT = "sent", _("sent")
        NOTHING = "nothing", _("nothing to tell")
        REFUSED = "refused", _("not taken; it is tried again")
        GIVEN_UP = "given_up", _("not taken, and given up")
        UNKNOWN = "unknown", _("broke off while it was sent, so it is not sent again")

    outcome = models.CharField(max_length=10, choices=Outcome, default=Outcome.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    told_at = models.DateTimeField(null=True, blank=True)
    fault = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True


class Morning(Posted):
    """One person's mail of one day."""

    kind: ClassVar[str] = "morning"

    person = models.ForeignKey(_PERSON, on_delete=models.CASCADE, related_name="mornings")
    day = models.DateField()

    class Meta:
        ordering: ClassVar[list[str]] = ["-day", "person"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["person", "day"], name="one_morning_mail_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.day}: {self.outcome}"


class Alert(Posted):
    """That one person is told at once of one restriction on an animal of a running study."""

    kind: ClassVar[str] = "alert"

    person = models.ForeignKey(_PERSON, on_delete=models.CASCADE, related_name="alerts")
    restriction = models.ForeignKey(Restriction, on_delete=models.CASCADE, related_name="alerts")

    class Meta:
        ordering: ClassVar[list[str]] = ["-pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["person", "restriction"], name="one_alert_a_restriction"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.restriction}: {self.outcome}"


class CalendarKey(models.Model):
    """The secret part of the address of a person's calendar; only its SHA-256 is kept."""

    kind: ClassVar[str] = "calendar_key"

    person = models.OneToOneField(_PERSON, on_delete=models.CASCADE, related_name="calendar_key")
    digest = models.CharField(max_length=64, unique=True, null=True, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"the calendar of {self.person}"
