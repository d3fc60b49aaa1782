"""Whose young one is, by what evidence; an uncertain parent is kept so, with its candidates."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models.eggs import EggCase, Embryo
from registry.animals.models.living import Animal, Group
from registry.animals.models.words import one_of


class ParentageQuerySet(models.QuerySet["Parentage"]):
    """Reads of parentage."""

    def standing(self) -> "ParentageQuerySet":
        """What is held now; what was held before is kept beside it."""
        return self.filter(replaced_at=None)

    def certain(self) -> "ParentageQuerySet":
        """Parents that may be reckoned with: one is named, and not merely assumed."""
        return self.standing().filter(parent__isnull=False).exclude(evidence="assumed")


class Parentage(models.Model):
    """The dam or the sire of an animal, a group, an egg case or an embryo.

    Either one parent is named, or the candidates are: a case's sire belongs to its embryos.
    """

    kind: ClassVar[str] = "parentage"

    class Role(models.TextChoices):
        """Which of the two."""

        DAM = "dam", "dam"
        SIRE = "sire", "sire"

    class Evidence(models.TextChoices):
        """How one knows."""

        SEEN_BIRTH = "seen_birth", "seen laying or giving birth"
        SEEN_MATING = "seen_mating", "seen mating"
        ONLY_PRESENT = "only_present", "only one that could be"
        GENETIC = "genetic", "genetic test"
        ASSUMED = "assumed", "assumed"

    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="parentage"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="parentage"
    )
    case = models.ForeignKey(
        EggCase, on_delete=models.PROTECT, null=True, blank=True, related_name="parentage"
    )
    embryo = models.ForeignKey(
        Embryo, on_delete=models.PROTECT, null=True, blank=True, related_name="parentage"
    )
    role = models.CharField(max_length=10, choices=Role)
    parent = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="offspring"
    )
    evidence = models.CharField(max_length=20, choices=Evidence)
    note = models.TextField(blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="parentage_recorded"
    )
    replaced_at = models.DateTimeField(null=True, blank=True)

    objects = ParentageQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["role", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=one_of("animal", "group", "case", "embryo"), name="parentage_of_one"
            ),
            *(
                models.UniqueConstraint(
                    fields=[name, "role"],
                    condition=Q(**{f"{name}__isnull": False, "replaced_at": None}),
                    name=f"one_parent_a_role_of_{name}",
                )
                for name in ("animal", "group", "case", "embryo")
            ),
            models.CheckConstraint(
                condition=Q(animal=None) | Q(parent=None) | ~Q(animal=models.F("parent")),
                name="nobody_is_its_own_parent",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.child}: {self.get_role_display()} {self.parent or 'uncertain'}"

    @property
    def child(self) -> Any:
        """Whose parent it is."""
        return self.animal or self.group or self.case or self.embryo

    @property
    def is_certain(self) -> bool:
        """Whether one may reckon with it: a parent is named, and not merely assumed."""
        return self.parent_id is not None and self.evidence != self.Evidence.ASSUMED


class Candidate(models.Model):
    """One of several animals that may be the parent."""

    kind: ClassVar[str] = "candidate"

    parentage = models.ForeignKey(Parentage, on_delete=models.PROTECT, related_name="candidates")
    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="candidacies")

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["parentage", "animal"], name="candidate_once")
        ]

    def __str__(self) -> str:
        return str(self.animal)
