"""The input of deeds on young: scans, births, parents, egg cases and clutches."""

from typing import Any

from django import forms
from django.db.models import Model
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.forms.fields import (
    LOCAL_CODES,
    Counted,
    code_field,
    enclosure_field,
    note,
    number_field,
    sex_field,
    today,
)
from registry.animals.models import (
    Animal,
    EggCase,
    Embryo,
    Enclosure,
    Event,
    Group,
    LifeStage,
    Parentage,
    Precision,
    Taxon,
)
from registry.choices import RowField, RowsField
from registry.web import DeedForm, day_field


class ScanAnimal(DeedForm):
    """Whether a scan found it pregnant."""

    caution = format_lazy(
        "{} {}",
        _(
            "To scan an animal is for the veterinary surgeon or under their word. One that is"
            " lifted, held or sedated for a study alone may need a licence."
        ),
        LOCAL_CODES,
    )
    is_pregnant = forms.TypedChoiceField(
        choices=[("yes", _("pregnant")), ("no", _("not pregnant"))],
        coerce=lambda said: said == "yes",
        label=_("The scan found it"),
        widget=forms.RadioSelect,
    )
    number = forms.IntegerField(
        label=_("Young expected"), min_value=1, max_value=1_000_000, required=False
    )
    since_on = day_field(
        _("May have begun on"),
        _("The earliest day: the first mating seen, or the first day with a male."),
        required=False,
    )
    happened_on = today(_("Scanned on"))
    method = forms.CharField(label=_("How"), max_length=200, required=False)
    note = note()

    def act(self) -> Animal:
        """Record it."""
        return actions.scan_animal(self.subject, **self.cleaned_data, by=self.by)


class BearYoung(Counted):
    """How many were born, and under which code they are kept."""

    intro = _(
        "One young becomes an animal, several become a litter that is counted. Those born dead are"
        " counted too; record their deaths then."
    )
    code = code_field(_("The number of the young, or of the litter, in your records."))
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    males = number_field(_("Males"))
    females = number_field(_("Females"))
    unknown = number_field(_("Of unknown sex"))
    life_stage = forms.ChoiceField(choices=LifeStage, label=_("Life stage"), initial=LifeStage.PUP)
    happened_on = today(_("Born on"))
    note = note()

    def act(self) -> Model:
        """Record it."""
        return actions.bear_young(self.subject, **self.numbers(), by=self.by)


class NameParent(DeedForm):
    """Who the dam or the sire is, or who may be."""

    intro = _(
        "Where it is not certain, name everyone that it may be: an uncertain parent is never"
        " reckoned with."
    )
    role = forms.ChoiceField(choices=Parentage.Role, label=_("Which"), widget=forms.RadioSelect)
    parent = RowField(Animal.objects.all(), label=_("Parent"), required=False)
    candidates = RowsField(
        Animal.objects.all(), label=_("Or candidates, two or more"), required=False
    )
    evidence = forms.ChoiceField(
        choices=Parentage.Evidence,
        label=_("Evidence"),
        help_text=_("One that is assumed is shown, and not reckoned with."),
    )
    note = note()

    def fit(self) -> None:
        """Offer the animals of its taxon."""
        for name in ("parent", "candidates"):
            field: Any = self.fields[name]
            field.queryset = Animal.objects.filter(taxon=self.subject.taxon_id)

    @property
    def young(self) -> Any:
        """Whose parent it is."""
        return self.subject

    def act(self) -> Model:
        """Record it."""
        given = {name: one for name, one in self.cleaned_data.items() if name != "embryo"}
        given["candidates"] = list(given["candidates"])
        actions.name_parent(self.young, **given, by=self.by)
        subject: Model = self.subject
        return subject


def _embryo(*, required: bool = True) -> forms.ModelChoiceField[Embryo]:
    return forms.ModelChoiceField(Embryo.objects.all(), label=_("Embryo"), required=required)


class OfEmbryo(DeedForm):
    """Of which embryo of the case."""

    embryo = _embryo()

    def fit(self) -> None:
        """Offer those that are developing; one alone is chosen already."""
        field: Any = self.fields["embryo"]
        field.queryset = self.subject.embryos.filter(outcome=Embryo.Outcome.DEVELOPING)
        here = list(field.queryset[:2])
        if len(here) == 1:
            field.initial = here[0]


class NameParentOfCase(NameParent):
    """Who the dam of the case is, or a parent of one of its embryos."""

    embryo = _embryo(required=False)

    def fit(self) -> None:
        """Offer the case’s embryos too."""
        super().fit()
        field: Any = self.fields["embryo"]
        field.queryset = self.subject.embryos.all()
        field.empty_label = _("the whole case (its dam)")

    @property
    def young(self) -> Any:
        """The embryo that is named, or the case."""
        return self.cleaned_data["embryo"] or self.subject


class RecordCase(DeedForm):
    """Which egg case was laid, where, when and by whom."""

    code = code_field(_("As it is written on its tag or tray."))
    taxon = RowField(Taxon.objects.all(), label=_("Taxon"))
    enclosure = enclosure_field(_("Lies in"))
    laid_on = today(_("Laid on"))
    laid_precision = forms.ChoiceField(
        choices=Precision, label=_("How exactly the day is known"), initial=Precision.DAY
    )
    embryos = forms.IntegerField(
        label=_("Embryos"),
        min_value=1,
        max_value=50,
        initial=1,
        help_text=_("Some cases hold more than one; another that is found is added later."),
    )
    dam = RowField(
        Animal.objects.filter(state="kept"),
        label=_("Seen laid by"),
        required=False,
        empty_label=_("not seen"),
    )
    clutch = RowField(
        Group.objects.filter(sort=Group.Sort.CLUTCH),
        label=_("Of the clutch"),
        required=False,
        empty_label=_("none"),
    )
    note = note()

    def act(self) -> EggCase:
        """Record it."""
        return actions.record_case(**self.cleaned_data, by=self.by)


class FindEmbryo(DeedForm):
    """That one embryo more was found."""

    happened_on = today(_("Found on"))
    note = note()

    def act(self) -> EggCase:
        """Record it."""
        return actions.find_embryo(self.subject, **self.cleaned_data, by=self.by)


class CandleEmbryo(OfEmbryo):
    """Whether an embryo was found fertile."""

    is_fertile = forms.TypedChoiceField(
        choices=[("yes", _("fertile")), ("no", _("not fertile"))],
        coerce=lambda said: said == "yes",
        label=_("It was found"),
        widget=forms.RadioSelect,
    )
    happened_on = today(_("On"))
    note = note()

    def act(self) -> EggCase:
        """Record it."""
        return actions.candle_embryo(**self.cleaned_data, by=self.by)


class StageEmbryo(OfEmbryo):
    """Which stage of development an embryo has reached, by which table."""

    stage = forms.FloatField(label=_("Stage"), min_value=0, max_value=1000)
    method = forms.CharField(
        label=_("By the table of"),
        max_length=200,
        help_text=_("Author and year of the published stages."),
    )
    happened_on = today(_("On"))
    note = note()

    def act(self) -> EggCase:
        """Record it."""
        return actions.stage_embryo(**self.cleaned_data, by=self.by)


class LoseEmbryo(OfEmbryo):
    """That an embryo died, and of what."""

    cause = forms.ChoiceField(choices=Event.Cause, label=_("Cause"), initial=Event.Cause.UNKNOWN)
    happened_on = today(_("On"))
    note = note()

    def act(self) -> EggCase:
        """Record it."""
        return actions.lose_embryo(**self.cleaned_data, by=self.by)


class HatchEmbryo(OfEmbryo):
    """That an embryo hatched, and under which code the young is kept."""

    code = code_field(_("The number of the young in your records."))
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    sex = sex_field(_("Sex"))
    happened_on = today(_("Hatched on"))
    note = note()

    def act(self) -> Animal:
        """Record it."""
        return actions.hatch_embryo(**self.cleaned_data, by=self.by)


class MoveCase(DeedForm):
    """Where the case lies from now on."""

    enclosure = enclosure_field(_("To"))
    happened_on = today(_("On"))
    note = note(_("Why"))

    def fit(self) -> None:
        """Offer every enclosure but its own."""
        field: Any = self.fields["enclosure"]
        field.queryset = Enclosure.objects.exclude(pk=self.subject.enclosure_id)

    def act(self) -> EggCase:
        """Move it."""
        return actions.move_case(self.subject, **self.cleaned_data, by=self.by)


class EndCase(DeedForm):
    """That nothing more will come of the case."""

    ended_on = today(_("On"))

    def act(self) -> EggCase:
        """Close it."""
        return actions.end_case(self.subject, **self.cleaned_data, by=self.by)


def _eggs(label: Any, lowest: int) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=lowest, max_value=10_000_000)


class CandleClutch(DeedForm):
    """How many eggs of the clutch were found fertile."""

    number = _eggs(_("Fertile eggs"), 0)
    happened_on = today(_("On"))
    note = note()

    def act(self) -> Group:
        """Record it."""
        return actions.candle_clutch(self.subject, **self.cleaned_data, by=self.by)


class HatchClutch(DeedForm):
    """How many eggs hatched, and the group that the hatchlings are."""

    number = _eggs(_("Eggs that hatched"), 1)
    code = code_field(_("The number of the group of hatchlings in your records."))
    name = forms.CharField(label=_("Name of the group"), max_length=80)
    sort = forms.ChoiceField(
        choices=[one for one in Group.Sort.choices if one[0] != Group.Sort.CLUTCH],
        label=_("Kind of group"),
    )
    enclosure = RowField(
        Enclosure.objects.all(),
        label=_("Live in"),
        required=False,
        empty_label=_("where the eggs are"),
    )
    happened_on = today(_("Hatched on"))
    note = note()

    def act(self) -> Group:
        """Record it."""
        return actions.hatch_clutch(self.subject, **self.cleaned_data, by=self.by)
