"""Dictionaries, datasets, deposits and the versions that they become."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import ngettext

from archive.copies import models as copies
from archive.lifecycle import DEPOSIT, VERSION
from archive.wording import field_parts, words_of
from registry.lifecycle import Lifecycle
from registry.projects.models import Project, Study
from registry.search.parts import Part

_PERSON = settings.AUTH_USER_MODEL


class Dictionary(models.Model):
    """A study's data dictionary in one version: a Data Package descriptor with its schemas."""

    kind: ClassVar[str] = "dictionary"
    reach: ClassVar[dict[str, str]] = {"project": "study__projects"}
    searched: ClassVar[tuple[str, ...]] = ("words", "notes")
    search_taxon: ClassVar[str] = "study__taxon_id"

    study = models.ForeignKey(Study, on_delete=models.PROTECT, related_name="dictionaries")
    number = models.PositiveIntegerField()
    descriptor = models.JSONField()
    notes = models.TextField(blank=True)
    published_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="dictionaries_published"
    )
    published_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["study", "-number"]
        verbose_name_plural = "dictionaries"
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["study", "number"], name="one_dictionary_of_a_number")
        ]

    def __str__(self) -> str:
        return f"dictionary {self.number} of {self.study}"

    @property
    def words(self) -> str:
        """The words of its tables and fields."""
        return words_of(self.descriptor)

    def search_parts(self) -> list[Part]:
        """Give its fields, each to be found by itself."""
        study = self.study
        # A plan is for few eyes; what was done is told with the data.
        told = study.projects.filter(dataset__versions__is_published=True)
        procedures = told.values_list("plan__procedures__name", flat=True)
        about = [study.title, study.taxon.searched_by if study.taxon else "", *procedures]
        return field_parts(self.descriptor, " ".join(dict.fromkeys(filter(None, about))))

    def search_elders(self) -> Any:
        """Give the study's earlier versions: a field is found in the newest that has it."""
        elders = Dictionary.objects.filter(study=self.study_id, number__lt=self.number)
        return elders.order_by().values_list("pk", flat=True)

    def get_absolute_url(self) -> str:
        """Give the address of the dictionary's page."""
        return f"/archive/dictionaries/{self.pk}/"


class Dataset(models.Model):
    """The one dataset of a project, whose versions correct it; or what it pooled out of several."""

    kind: ClassVar[str] = "dataset"
    reach: ClassVar[dict[str, str]] = {"project": "project"}
    searched: ClassVar[tuple[str, ...]] = (
        "identifier",
        "project__study__aim",
        "project__study__taxon__searched_by",
    )
    search_keys: ClassVar[tuple[str, ...]] = ("identifier",)
    search_taxon: ClassVar[str] = "project__study__taxon_id"

    project = models.ForeignKey(
        Project, on_delete=models.PROTECT, related_name="datasets", related_query_name="dataset"
    )
    is_pooled = models.BooleanField(
        default=False, help_text="Made of other versions, which its own name as their sources."
    )
    title = models.CharField(max_length=200)
    identifier = models.CharField(max_length=120, unique=True)
    opened_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["title"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["project", "is_pooled"], name="one_dataset_of_a_sort_in_a_project"
            )
        ]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the dataset's page."""
        return f"/archive/{self.pk}/"


class DepositQuerySet(models.QuerySet["Deposit"]):
    """Reads of deposits."""

    def awaiting_acceptance(self) -> "DepositQuerySet":
        """Deposits that were checked, of which the tables hold together."""
        return self.filter(state="checked", verdict="valid")


class Deposit(models.Model):
    """A data package on its way in: uploaded, checked, corrected, and accepted in the end."""

    kind: ClassVar[str] = "deposit"
    lifecycle: ClassVar[Lifecycle] = DEPOSIT
    reach: ClassVar[dict[str, str]] = {"project": "dataset__project", "maker": "maker"}
    # Written by the worker while it runs; no deed.
    not_in_digest: ClassVar[tuple[str, ...]] = ("progress", "heartbeat_at")

    dataset = models.ForeignKey(Dataset, on_delete=models.PROTECT, related_name="deposits")
    dictionary = models.ForeignKey(
        Dictionary, on_delete=models.PROTECT, null=True, blank=True, related_name="deposits"
    )
    maker = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="deposits")
    pool = models.ForeignKey(
        "PooledTable", on_delete=models.PROTECT, null=True, blank=True, related_name="deposits"
    )
    opened_at = models.DateTimeField(default=timezone.now)
    note = models.TextField(blank=True)
    round = models.PositiveIntegerField(default=1)
    submitted_at = models.DateTimeField(null=True, blank=True)
    checked_at = models.DateTimeField(null=True, blank=True)
    progress = models.FloatField(default=0, help_text="Share of the check that is done, 0 to 1.")
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    verdict = models.CharField(max_length=20, blank=True)
    summary = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=20, choices=DEPOSIT.choices, default=DEPOSIT.first)

    objects = DepositQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-opened_at", "-pk"]

    def __str__(self) -> str:
        return f"deposit {self.pk} for {self.dataset}"

    def get_absolute_url(self) -> str:
        """Give the address of the deposit's page."""
        return f"/archive/deposits/{self.pk}/"


class DepositFile(models.Model):
    """One file of a deposit as it was received; a corrected one is a new row in a new round."""

    kind: ClassVar[str] = "deposit_file"
    reach: ClassVar[dict[str, str]] = {"project": "deposit__dataset__project"}

    deposit = models.ForeignKey(Deposit, on_delete=models.PROTECT, related_name="files")
    round = models.PositiveIntegerField()
    name = models.CharField(max_length=200)
    bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    place = models.CharField(max_length=60, help_text="The key under which its bytes are kept.")
    added_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="files_added")
    added_at = models.DateTimeField(default=timezone.now)
    is_dropped = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["deposit", "name"],
                condition=Q(is_dropped=False),
                name="one_live_file_of_a_name",
            )
        ]

    def __str__(self) -> str:
        return self.name


class IntakeRecipe(models.Model):
    """How one file of a deposit was made into a plain table: the confirmed steps, and what came."""

    kind: ClassVar[str] = "intake_recipe"
    reach: ClassVar[dict[str, str]] = {"project": "source__deposit__dataset__project"}

    source = models.ForeignKey(DepositFile, on_delete=models.PROTECT, related_name="recipes")
    result = models.ForeignKey(DepositFile, on_delete=models.PROTECT, related_name="made_by")
    table = models.CharField(max_length=200)
    recipe = models.JSONField()
    source_sha256 = models.CharField(max_length=64)
    result_sha256 = models.CharField(max_length=64)
    row_map = models.JSONField(help_text="Runs of rows: first row, first source row, count.")
    left = models.JSONField(help_text="Cells that no rule fitted, by column.")
    made_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="recipes_made")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.source.name} made into {self.result.name}"

    @property
    def left_said(self) -> str:
        """Say which cells no rule fitted; empty where there are none."""
        if not self.left:
            return ""
        told = "; ".join(f"{one['column']}, {'; '.join(one['places'])}" for one in self.left)
        count = sum(one["count"] for one in self.left)
        return ngettext(
            "%(count)d cell did not fit its choice and was left as it stood: %(told)s.",
            "%(count)d cells did not fit their choices and were left as they stood: %(told)s.",
            count,
        ) % {"count": count, "told": told}


class Mending(models.Model):
    """A file of a deposit that safe corrections made out of another one, which is kept."""

    kind: ClassVar[str] = "mending"
    reach: ClassVar[dict[str, str]] = {"project": "source__deposit__dataset__project"}

    source = models.ForeignKey(DepositFile, on_delete=models.PROTECT, related_name="mendings")
    result = models.OneToOneField(DepositFile, on_delete=models.PROTECT, related_name="mended_by")
    corrections = models.JSONField(help_text="The rules, as they can be made again.")
    said = models.JSONField(help_text="What each of them does, in words.")
    cells = models.PositiveBigIntegerField(help_text="How many cells were changed.")
    rows_left_out = models.PositiveBigIntegerField(default=0)
    made_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="mendings_made")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.result} corrected"


class VersionQuerySet(models.QuerySet["Version"]):
    """Reads of versions."""

    def held(self) -> "VersionQuerySet":
        """Versions that were neither withdrawn nor erased."""
        return self.filter(state="held")


class Version(models.Model):
    """An accepted, immutable version of a dataset, with its identifier and digests."""

    kind: ClassVar[str] = "version"
    lifecycle: ClassVar[Lifecycle] = VERSION
    reach: ClassVar[dict[str, str]] = {
        "project": "dataset__project",
        "sources": "deposit__pool__sources",
    }
    searched: ClassVar[tuple[str, ...]] = ("identifier", "words")
    search_keys: ClassVar[tuple[str, ...]] = ("identifier",)
    search_taxon: ClassVar[str] = "dataset__project__study__taxon_id"

    class Access(models.TextChoices):
        """Who may read its files."""

        OPEN = "open", "open"
        EMBARGOED = "embargoed", "embargoed"
        RESTRICTED = "restricted", "restricted"

    class Ground(models.TextChoices):
        """Classes of reason for a withdrawal, public on the tombstone."""

        FAULTY = "faulty", "the data were faulty"
        SUPERSEDED = "superseded", "replaced by a corrected version"
        CONSENT = "consent", "consent was withdrawn"
        LEGAL = "legal", "a legal ground"

    dataset = models.ForeignKey(Dataset, on_delete=models.PROTECT, related_name="versions")
    deposit = models.OneToOneField(Deposit, on_delete=models.PROTECT, related_name="version")
    dictionary = models.ForeignKey(
        Dictionary, on_delete=models.PROTECT, null=True, blank=True, related_name="versions"
    )
    number = models.CharField(max_length=20, help_text="Major, minor, patch.")
    identifier = models.CharField(max_length=140, unique=True)
    registered = models.CharField(
        max_length=200, blank=True, help_text="A DOI or a Handle that an agency registered for it."
    )
    slug = models.SlugField(
        max_length=60, unique=True, help_text="The part of the identifier that its address uses."
    )
    descriptor = models.JSONField()
    manifest = models.JSONField(help_text="File to bytes, sha256 and sha512.")
    seal = models.CharField(
        max_length=128,
        help_text="The sha512 of its object’s inventory, which speaks for all of it.",
    )
    creators = models.JSONField(default=list)
    licence = models.CharField(max_length=40)
    access = models.CharField(max_length=20, choices=Access)
    embargoed_until = models.DateField(null=True, blank=True)
    restricted_because = models.TextField(blank=True)
    rows = models.PositiveBigIntegerField(default=0)
    bytes = models.PositiveBigIntegerField(default=0)
    accepted_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="versions_accepted"
    )
    accepted_at = models.DateTimeField(default=timezone.now)
    is_published = models.BooleanField(
        default=False, help_text="Its bytes are in the store; set once, when they are."
    )
    ground = models.CharField(max_length=20, choices=Ground, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)
    replaced_by = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaces"
    )
    erase_steward = models.ForeignKey(
        _PERSON,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="erasures_as_steward",
    )
    erase_administrator = models.ForeignKey(
        _PERSON,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="erasures_as_administrator",
    )
    state = models.CharField(max_length=20, choices=VERSION.choices, default=VERSION.first)

    objects = VersionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["dataset", "-accepted_at"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["dataset", "number"], name="one_version_of_a_number"),
            models.UniqueConstraint(
                fields=["registered"],
                condition=~models.Q(registered=""),
                name="one_version_of_a_registered_identifier",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.dataset}, version {self.number}"

    @property
    def is_nameless(self) -> bool:
        """Whether those who made it are named no more: they withdrew their consent."""
        return self.state == "erased" and self.ground == self.Ground.CONSENT

    @property
    def words(self) -> str:
        """The words of its tables and fields."""
        return words_of(self.descriptor)

    @property
    def is_damaged(self) -> bool:
        """Whether its bytes in the store were found damaged and are not mended."""
        return self.copies.filter(place=copies.Copy.Place.FIRST, state="damaged").exists()

    @property
    def is_under_embargo(self) -> bool:
        """Whether its embargo has still to end."""
        until = self.embargoed_until
        return self.access == "embargoed" and until is not None and until > timezone.localdate()

    @property
    def access_said(self) -> str:
        """Who may read its files today, in a word; an embargo that ended leaves it open."""
        is_open = self.access == "embargoed" and not self.is_under_embargo
        return str(self.Access.OPEN.label if is_open else self.get_access_display())

    def get_absolute_url(self) -> str:
        """Give the address of the version's landing page."""
        return f"/archive/versions/{self.slug}/"
