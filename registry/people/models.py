"""A person, their standing, institutions, the bodies that decide, and inductions."""

from functools import cached_property
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.permissions import STANDINGS, Role, Verb, is_look


class Institution(models.Model):
    """A collection, a university, or an owner of animals on loan."""

    kind: ClassVar[str] = "institution"

    name = models.CharField(max_length=200, unique=True)
    is_university = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the institution's page."""
        return f"/institutions/{self.pk}/"


class PersonQuerySet(models.QuerySet["Person"]):
    """Reads of people."""

    def with_standing(self, *roles: str) -> "PersonQuerySet":
        """People who hold one of these standings now."""
        return self.filter(
            pk__in=Standing.objects.filter(role__in=roles, ended_on=None).values("person")
        )

    def real(self) -> "PersonQuerySet":
        """People, without the system's own persons."""
        return self.filter(is_system=False)


class PersonManager(BaseUserManager.from_queryset(PersonQuerySet)):  # type: ignore[misc]  # why: a class made at run time
    """Looks a person up by e-mail, whatever the case."""

    def get_by_natural_key(self, username: str | None) -> "Person":
        """Give the person who signs in with this e-mail."""
        found: Person = self.get(email__iexact=username)
        return found


class Person(AbstractBaseUser):
    """Someone who signs in, or the clock (`is_system`), in whose name timed deeds are done."""

    kind: ClassVar[str] = "person"
    reach: ClassVar[dict[str, str]] = {"person": "pk"}
    searched: ClassVar[tuple[str, ...]] = ("post",)
    not_in_digest: ClassVar[tuple[str, ...]] = ("password", "last_login", "session_round")

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=150)
    post = models.CharField(
        max_length=150, blank=True, help_text="What you look after, as others would say it."
    )
    institution = models.ForeignKey(
        Institution, on_delete=models.PROTECT, null=True, blank=True, related_name="people"
    )
    orcid = models.CharField("ORCID", max_length=19, blank=True)
    is_active = models.BooleanField(default=True)
    is_system = models.BooleanField(default=False)
    second_factor_on = models.DateField(
        null=True, blank=True, help_text="Since when a second factor is asked of them."
    )
    session_round = models.PositiveIntegerField(
        default=0, help_text="Raised to end every session that is open."
    )
    added_at = models.DateTimeField(default=timezone.now)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects = PersonManager()

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the person's page."""
        return f"/people/{self.pk}/"

    @cached_property
    def roles(self) -> frozenset[str]:
        """The standings held now, with those that everyone signed in has."""
        if self.is_system:
            return frozenset({Role.CLOCK})
        held = self.standings.filter(ended_on=None).values_list("role", flat=True)
        return frozenset({*held, Role.SIGNED_IN, Role.PUBLIC})

    @property
    def roles_said(self) -> str:
        """The standings in words, and what the person looks after."""
        said = [role.label for role in STANDINGS if role in self.roles]
        return ", ".join([*said, self.post] if self.post else said)

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """Give what a session must match: of the password, and of this round of sessions."""
        of_password = super()._get_session_auth_hash(secret=secret)  # type: ignore[misc]  # why: the stubs leave it out
        return f"{of_password}.{self.session_round}"

    def get_full_name(self) -> str:
        """Give the name as it is written."""
        return self.name


class Standing(models.Model):
    """A site standing, given by an administrator with a reason."""

    kind: ClassVar[str] = "standing"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="standings")
    role = models.CharField(max_length=20, choices=[(role.value, role.label) for role in STANDINGS])
    given_on = models.DateField(default=timezone.localdate)
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["role", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["person", "role"],
                condition=Q(ended_on=None),
                name="one_live_standing_of_a_kind",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_role_display()}"


class BodyKind(models.Model):
    """A kind of body that decides, as the trade or a law knows it; reference data."""

    kind: ClassVar[str] = "body_kind"

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    is_ethics = models.BooleanField(default=False, help_text="Such a body weighs welfare.")
    jurisdiction = models.CharField(max_length=60, help_text="Where its name or duty is known.")
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return self.name


class Body(models.Model):
    """A body that decides: a committee, an ethics body, an owner, a safety office."""

    kind: ClassVar[str] = "body"
    reach: ClassVar[dict[str, str]] = {"body": ""}

    name = models.CharField(max_length=200, unique=True)
    institution = models.ForeignKey(Institution, on_delete=models.PROTECT, related_name="bodies")
    sort = models.ForeignKey(
        BodyKind, on_delete=models.PROTECT, null=True, blank=True, related_name="bodies"
    )
    is_ethics = models.BooleanField(
        default=False, help_text="It weighs welfare: its chair handles concerns and lifts halts."
    )
    quorum = models.PositiveSmallIntegerField(
        default=2, help_text="Members who must have taken part in a decision, the chair included."
    )
    lead_time_d = models.PositiveSmallIntegerField(
        "days before a meeting by which papers must be in", default=0
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]
        verbose_name_plural = "bodies"

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Give the address of the body's page."""
        return f"/bodies/{self.pk}/"


class MeetingQuerySet(models.QuerySet["Meeting"]):
    """Reads of meetings."""

    def to_come(self) -> "MeetingQuerySet":
        """Meetings from today on that were not called off."""
        return self.filter(held_on__gte=timezone.localdate(), called_off_on=None)


class Meeting(models.Model):
    """A day on which a body meets, and the last day on which it takes papers for it."""

    kind: ClassVar[str] = "meeting"
    reach: ClassVar[dict[str, str]] = {"body": "body"}

    body = models.ForeignKey(Body, on_delete=models.PROTECT, related_name="meetings")
    held_on = models.DateField()
    papers_by = models.DateField()
    called_off_on = models.DateField(null=True, blank=True)

    objects = MeetingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["held_on", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["body", "held_on"],
                condition=Q(called_off_on=None),
                name="one_meeting_a_day",
            ),
            models.CheckConstraint(
                condition=Q(papers_by__lte=models.F("held_on")), name="papers_before_meeting"
            ),
        ]

    def __str__(self) -> str:
        return f"meeting of {self.body}"


class Seat(models.Model):
    """A person's seat on a body."""

    kind: ClassVar[str] = "seat"
    reach: ClassVar[dict[str, str]] = {"body": "body"}

    body = models.ForeignKey(Body, on_delete=models.PROTECT, related_name="seats")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="seats")
    is_chair = models.BooleanField(default=False)
    began_on = models.DateField(default=timezone.localdate)
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-is_chair", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["body", "person"], condition=Q(ended_on=None), name="one_live_seat"
            ),
            models.UniqueConstraint(
                fields=["body"], condition=Q(ended_on=None, is_chair=True), name="one_live_chair"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.body}"


class Training(models.Model):
    """A training by its name, that the house may ask for before some work; reference data."""

    kind: ClassVar[str] = "training"

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]

    def __str__(self) -> str:
        return self.name


class InductionQuerySet(models.QuerySet["Induction"]):
    """Reads of inductions."""

    def of_places(self) -> "InductionQuerySet":
        """Those to a place or to work; a training by name stands for none."""
        return self.filter(training=None)


class Induction(models.Model):
    """That a person was shown how to work safely in a place, and until when that holds.

    One of a named training says that they were trained; it stands for no place.
    """

    kind: ClassVar[str] = "induction"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="inductions")
    about = models.CharField(max_length=200, help_text="The place or the work.")
    training = models.ForeignKey(
        Training, on_delete=models.PROTECT, null=True, blank=True, related_name="given"
    )
    given_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="inductions_given")
    given_on = models.DateField()
    expires_on = models.DateField()

    objects = InductionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-expires_on", "pk"]

    def __str__(self) -> str:
        return f"{self.person}: {self.about}"

    def is_live_on(self, day: Any) -> bool:
        """Say whether it holds on this day."""
        return bool(self.given_on <= day <= self.expires_on)


class Scope(models.TextChoices):
    """How far a program may go with a token, within what its person may do."""

    READ = "read", _("look, and do nothing")
    DEPOSIT = "deposit", _("send deposits in, and nothing else")
    DEEDS = "deeds", _("everything that you may do")


DEPOSITING = frozenset(
    {Verb.DEPOSIT_SEE, Verb.PROJECT_DEPOSIT, Verb.DEPOSIT_ADD_FILE, Verb.DEPOSIT_SUBMIT}
)
"""What a token for deposits may: open one, add files, submit it, and look what became of it."""


class ApiToken(models.Model):
    """A named token for a program that acts for a person; only its SHA-256 is kept."""

    kind: ClassVar[str] = "token"
    # Written whenever a program calls; no deed.
    not_in_digest: ClassVar[tuple[str, ...]] = ("used_at",)

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=100)
    digest = models.CharField(max_length=64, unique=True)
    scope = models.CharField(max_length=10, choices=Scope, default=Scope.READ)
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]

    def __str__(self) -> str:
        return self.name

    def permits(self, verb: str) -> bool:
        """Say whether the token's scope reaches so far; the table of who may is asked besides."""
        if self.scope == Scope.DEEDS:
            return True
        return verb in DEPOSITING if self.scope == Scope.DEPOSIT else is_look(Verb(verb))


def the_clock() -> Person:
    """Give the system person in whose name timed deeds are done."""
    clock: Person = Person.objects.get_or_create(
        email="clock@strandline.invalid", defaults={"name": "The clock", "is_system": True}
    )[0]
    return clock
