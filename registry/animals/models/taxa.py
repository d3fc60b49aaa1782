"""Kinds of animal, with the periods and windows by which rules on them are reckoned."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q


class TaxonClass(models.TextChoices):
    """Classes, as far as the rules on protected animals tell them apart."""

    MAMMAL = "mammal", "mammal"
    BIRD = "bird", "bird"
    REPTILE = "reptile", "reptile"
    AMPHIBIAN = "amphibian", "amphibian"
    BONY_FISH = "bony_fish", "bony fish"
    CARTILAGINOUS_FISH = "cartilaginous_fish", "shark, skate or ray"
    CEPHALOPOD = "cephalopod", "cephalopod"
    DECAPOD = "decapod", "decapod"
    OTHER_INVERTEBRATE = "other_invertebrate", "other invertebrate"


class ProtectionGroup(models.TextChoices):
    """How the rules on protected animals treat the early stages of a class."""

    LATE_EMBRYO = "late_embryo", "vertebrate, from late in its gestation or incubation"
    FEEDING = "feeding", "vertebrate, once it can feed independently"
    CEPHALOPOD = "cephalopod", "cephalopod, from hatching"
    DECAPOD = "decapod", "decapod: by local rules"
    NONE = "none", "not protected as an animal used in science"


_GROUPS = {
    TaxonClass.MAMMAL: ProtectionGroup.LATE_EMBRYO,
    TaxonClass.BIRD: ProtectionGroup.LATE_EMBRYO,
    TaxonClass.REPTILE: ProtectionGroup.LATE_EMBRYO,
    TaxonClass.AMPHIBIAN: ProtectionGroup.FEEDING,
    TaxonClass.BONY_FISH: ProtectionGroup.FEEDING,
    TaxonClass.CARTILAGINOUS_FISH: ProtectionGroup.FEEDING,
    TaxonClass.CEPHALOPOD: ProtectionGroup.CEPHALOPOD,
    TaxonClass.DECAPOD: ProtectionGroup.DECAPOD,
    TaxonClass.OTHER_INVERTEBRATE: ProtectionGroup.NONE,
}


class Taxon(models.Model):
    """A kind of animal that the collection keeps or has kept."""

    kind: ClassVar[str] = "taxon"
    searched: ClassVar[tuple[str, ...]] = ("scientific_name",)
    search_taxon: ClassVar[str] = "pk"

    class Breeding(models.TextChoices):
        """How its young come; which of the two its period is depends on it."""

        LAYS = "lays", "lays eggs (incubation)"
        BEARS = "bears", "bears live young (gestation)"

    scientific_name = models.CharField(max_length=120, unique=True)
    common_name = models.CharField(max_length=120)
    other_names = models.CharField("other common names", max_length=300, blank=True)
    taxon_class = models.CharField(max_length=30, choices=TaxonClass)
    source = models.CharField(max_length=200, blank=True)
    breeding = models.CharField(max_length=10, choices=Breeding, blank=True)
    period_least_d = models.PositiveIntegerField(
        "shortest published gestation or incubation, days", null=True, blank=True
    )
    period_most_d = models.PositiveIntegerField(
        "longest published gestation or incubation, days", null=True, blank=True
    )
    period_source = models.CharField(max_length=300, blank=True)
    sperm_storage_d = models.PositiveIntegerField(
        "longest published storage of sperm, days", null=True, blank=True
    )
    sperm_storage_source = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["common_name"]
        verbose_name_plural = "taxa"
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(period_most_d=None)
                | Q(period_least_d__isnull=False, period_most_d__gte=F("period_least_d")),
                name="period_from_short_to_long",
            ),
            models.CheckConstraint(
                condition=Q(period_least_d=None) | ~Q(period_source=""),
                name="period_has_a_source",
            ),
            models.CheckConstraint(
                condition=Q(sperm_storage_d=None) | ~Q(sperm_storage_source=""),
                name="sperm_storage_has_a_source",
            ),
        ]

    def __str__(self) -> str:
        return self.common_name

    @property
    def searched_by(self) -> str:
        """All its names."""
        return " ".join(filter(None, [self.common_name, self.scientific_name, self.other_names]))

    @property
    def protection_group(self) -> ProtectionGroup:
        """How the rules on protected animals treat its early stages; its class decides."""
        return _GROUPS[TaxonClass(self.taxon_class)]

    def get_absolute_url(self) -> str:
        """Give the address of the list of this taxon's animals."""
        return f"/animals/?taxon={self.pk}"
