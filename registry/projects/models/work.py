"""Studies (long-lived), projects (one cohort's piece of work), members, agreements and halts."""

from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Count, OuterRef, Q, Subquery, Value
from django.db.models.functions import Concat
from django.utils import timezone

from registry.animals.models import Taxon
from registry.lifecycle import Lifecycle
from registry.permissions import Part
from registry.projects.lifecycle import PROJECT
from registry.questions.models import Level, Question


class Severity(models.IntegerChoices):
    """Classes of severity in their order; whole procedures without recovery stand apart."""

    SUB_THRESHOLD = 0, "sub-threshold"
    MILD = 1, "mild"
    MODERATE = 2, "moderate"
    SEVERE = 3, "severe"
    NON_RECOVERY = 9, "non-recovery"


class Procedure(models.Model):
    """Something that is done with an animal, from watching on; reference data."""

    kind: ClassVar[str] = "procedure"

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    is_contact = models.BooleanField(
        default=True, help_text="The animal is touched, lifted, moved or fed by the study."
    )
    severity = models.PositiveSmallIntegerField(choices=Severity, default=Severity.SUB_THRESHOLD)
    caution = models.TextField(blank=True)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]

    def __str__(self) -> str:
        return self.name


class Study(models.Model):
    """A long-lived line of work: it takes on questions and owns the dictionary."""

    kind: ClassVar[str] = "study"
    reach: ClassVar[dict[str, str]] = {"project": "projects"}
    searched: ClassVar[tuple[str, ...]] = ("aim", "taxon__searched_by")
    search_taxon: ClassVar[str] = "taxon_id"

    title = models.CharField(max_length=200, unique=True)
    aim = models.TextField()
    taxon = models.ForeignKey(
        Taxon, on_delete=models.PROTECT, null=True, blank=True, related_name="studies"
    )
    questions = models.ManyToManyField(Question, related_name="studies")
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="studies_opened"
    )
    opened_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["title"]
        verbose_name_plural = "studies"

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the study's page."""
        return f"/studies/{self.pk}/"


class ProjectQuerySet(models.QuerySet["Project"]):
    """Reads of projects."""

    def running(self) -> "ProjectQuerySet":
        """Projects that are neither closed nor abandoned."""
        return self.exclude(state__in=["closed", "abandoned"])

    def called(self, said: str, how: str = "iexact") -> "ProjectQuerySet":
        """Projects that answer to a name: the study's title, with or without the cohort."""
        title, comma, cohort = said.rpartition(", ")
        named = Q(**{f"study__title__{how}": said})
        if comma:
            named |= Q(**{"study__title__iexact": title, f"cohort__{how}": cohort})
        return self.filter(named)


class Project(models.Model):
    """One cohort's piece of work in a study."""

    kind: ClassVar[str] = "project"
    lifecycle: ClassVar[Lifecycle] = PROJECT
    reach: ClassVar[dict[str, str]] = {"project": "", "body": "approvals__body"}
    # The plan is not for everyone's eyes, so its words are not looked through.
    searched: ClassVar[tuple[str, ...]] = ("study__aim", "study__taxon__searched_by")
    search_taxon: ClassVar[str] = "study__taxon_id"

    study = models.ForeignKey(Study, on_delete=models.PROTECT, related_name="projects")
    cohort = models.CharField(max_length=40, help_text="Its label, such as an academic year.")
    level = models.CharField(max_length=20, choices=Level)
    starts_on = models.DateField()
    ends_on = models.DateField()
    keeper_hours_week = models.FloatField(
        "keeper time, hours a week", default=0, help_text="What it costs the keepers."
    )
    extends = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="extended_by"
    )
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="projects_opened"
    )
    opened_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=20, choices=PROJECT.choices, default=PROJECT.first)

    objects = ProjectQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["study__title", "starts_on", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["study", "cohort"], name="one_project_to_a_cohort"),
            models.CheckConstraint(
                condition=Q(ends_on__gte=models.F("starts_on")), name="project_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.study}, {self.cohort}"

    def get_absolute_url(self) -> str:
        """Give the address of the project's page."""
        return f"/studies/projects/{self.pk}/"


class MemberQuerySet(models.QuerySet["Member"]):
    """Reads of members."""

    def live(self) -> "MemberQuerySet":
        """Members now."""
        return self.filter(ended_on=None)

    def live_on(self, day: date) -> "MemberQuerySet":
        """Members on this day; on the day on which a part ended it is over."""
        return self.filter(began_on__lte=day).filter(Q(ended_on=None) | Q(ended_on__gt=day))

    def with_codes(self) -> "models.QuerySet[Any]":
        """Members with `data_code`: O1 for who was the first in the project, O2 for the next.

        Data name an observer by it, and nobody by name. Memberships end and are never deleted, so
        a code stays its person's, also of one who left and came back.
        """
        same = Member.objects.filter(project=OuterRef("project"))
        first = same.filter(person=OuterRef("person")).order_by("pk").values("pk")[:1]
        sooner = same.filter(pk__lte=OuterRef("first_of_person")).order_by().values("project")
        number = Subquery(sooner.annotate(n=Count("person", distinct=True)).values("n"))
        return self.annotate(first_of_person=Subquery(first)).annotate(
            data_code=Concat(Value("O"), number, output_field=models.CharField())
        )


class Member(models.Model):
    """A person's part in a project."""

    kind: ClassVar[str] = "member"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="members")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="memberships"
    )
    part = models.CharField(max_length=20, choices=Part)
    began_on = models.DateField(default=timezone.localdate)
    ended_on = models.DateField(null=True, blank=True)
    course_ends_on = models.DateField(
        null=True, blank=True, help_text="Of a student: when their course is over."
    )

    objects = MemberQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["part", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["project", "person"],
                condition=Q(ended_on=None),
                name="one_live_part_in_a_project",
            ),
            models.UniqueConstraint(
                fields=["project"],
                condition=Q(ended_on=None, part=Part.LEAD),
                name="one_live_lead_supervisor",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_part_display()}"


class Agreement(models.Model):
    """The data agreement: who may use the data again, and when; signed before collection starts."""

    kind: ClassVar[str] = "agreement"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    class Terms(models.TextChoices):
        """What the student agrees to."""

        OPEN = "open", "open to everyone once accepted"
        EMBARGOED = "embargoed", "open to everyone after an embargo"
        WITHIN = "within", "for later cohorts of this study, others on request"

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="agreements")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="agreements"
    )
    terms = models.CharField(max_length=20, choices=Terms)
    embargo_months = models.PositiveSmallIntegerField(default=0)
    signed_name = models.CharField(max_length=150)
    signed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["signed_at"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["project", "person"], name="one_agreement_each")
        ]

    def __str__(self) -> str:
        return f"data agreement of {self.person}"


class Halt(models.Model):
    """That data collection was stopped for welfare, and who agreed to lift it."""

    kind: ClassVar[str] = "halt"
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="halts")
    began_on = models.DateField(default=timezone.localdate)
    recorded_at = models.DateTimeField(default=timezone.now)
    halted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="halts"
    )
    why = models.TextField()
    vet_assent = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="halts_lifted_as_vet",
    )
    body_assent = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="halts_lifted_as_chair",
    )
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-recorded_at"]

    def __str__(self) -> str:
        return f"halt of {self.project}"
