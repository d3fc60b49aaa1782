"""The input of deeds that bring something into the register."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.forms.fields import (
    Counted,
    enclosure_field,
    number_field,
    owner_field,
    today,
)
from registry.animals.intake import keeping, told
from registry.animals.intake.dates import Order
from registry.animals.intake.keeping import Kept
from registry.animals.intake.limits import MOST_ROWS
from registry.animals.intake.reading import Sheet
from registry.animals.intake.weighing import DAY_COLUMNS, weigh
from registry.animals.models import (
    Animal,
    Enclosure,
    Group,
    Intake,
    LifeStage,
    Precision,
    Sex,
    Taxon,
    TaxonClass,
)
from registry.choices import RowField, RowsField
from registry.errors import Refusal
from registry.people.models import Person
from registry.permissions import Role
from registry.web import DeedForm, Words, day_field


def _days(label: Words, help_text: Words = "", *, lowest: int = 1) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, help_text=help_text, min_value=lowest, max_value=3000, required=False
    )


def _source() -> forms.CharField:
    return forms.CharField(
        label=_("Its source"),
        max_length=300,
        required=False,
        help_text=_("Where it was published."),
    )


class AddTaxon(DeedForm):
    """What kind of animal it is."""

    common_name = forms.CharField(label=_("Common name"), max_length=120)
    scientific_name = forms.CharField(
        label=_("Scientific name"),
        max_length=120,
        help_text=_("Genus and species, as in Raja undulata."),
    )
    taxon_class = forms.ChoiceField(choices=TaxonClass, label=_("Class"))
    source = forms.CharField(
        label=_("Source"),
        max_length=200,
        required=False,
        help_text=_("Where the name was looked up, and when."),
    )

    other_names = forms.CharField(
        label=_("Other common names"), max_length=300, required=False, help_text=_("With commas.")
    )
    breeding = forms.ChoiceField(
        choices=[("", _("not known")), *Taxon.Breeding.choices],
        label=_("Young"),
        required=False,
    )
    period_least_d = _days(
        _("Shortest published gestation or incubation, days"),
        _("The shortest is used; without one, its early stages are treated as protected."),
    )
    period_most_d = _days(_("Longest published, days"))
    period_source = _source()
    sperm_storage_d = _days(
        _("Longest published storage of sperm, days"),
        _("How long after a mating a female may still bear its young; 0 where none is stored."),
        lowest=0,
    )
    sperm_storage_source = _source()

    def act(self) -> Taxon:
        """Add it."""
        return actions.add_taxon(**self.cleaned_data, by=self.by)


class OpenEnclosure(DeedForm):
    """A tank, pool or run."""

    code = forms.CharField(
        label=_("Code"), max_length=20, help_text=_("Short, as it stands on the tank.")
    )
    name = forms.CharField(label=_("Name"), max_length=120)
    is_on_show = forms.BooleanField(
        label=_("On show"), required=False, help_text=_("Visitors can see into it.")
    )

    opened_on = day_field(
        _("Opened on"), _("Leave it blank if it was always there."), required=False
    )

    def act(self) -> Enclosure:
        """Open it."""
        return actions.open_enclosure(**self.cleaned_data, by=self.by)


class NameKeepers(DeedForm):
    """Who looks after an enclosure."""

    keepers = RowsField(
        Person.objects.none(),
        label=_("Keepers"),
        required=False,
        help_text=_("Where nobody is ticked, every keeper is told."),
        widget=forms.CheckboxSelectMultiple,
    )

    def fit(self) -> None:
        """Offer the keepers, those that are named ticked."""
        field: Any = self.fields["keepers"]
        field.queryset = Person.objects.with_standing(Role.KEEPER).filter(is_active=True)
        field.initial = list(self.subject.keepers.all())

    def act(self) -> Enclosure:
        """Write it down."""
        return actions.name_keepers(self.subject, **self.cleaned_data, by=self.by)


def _precise(given: dict[str, Any]) -> dict[str, Any]:
    """Give the data with a day that is known exactly, where nothing else is said."""
    return {**given, "born_precision": given["born_precision"] or Precision.DAY}


class ReceiveAnimal(DeedForm):
    """Which animal came, from where, and where it lives."""

    code = forms.CharField(
        label=_("Code"), max_length=40, help_text=_("Its number in your records.")
    )
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    taxon = RowField(Taxon.objects.all(), label=_("Taxon"))
    sex = forms.ChoiceField(
        choices=Sex,
        label=_("Sex"),
        initial=Sex.UNKNOWN,
        help_text=_("Undetermined: looked and could not tell. Unknown: not looked."),
    )
    life_stage = forms.ChoiceField(
        choices=LifeStage, label=_("Life stage"), initial=LifeStage.ADULT
    )
    enclosure = enclosure_field(_("Lives in"))
    arrived_on = today(_("Arrived on"))
    born_on = day_field(
        _("Born or hatched on"),
        _("The same day as the arrival if it was born here."),
        required=False,
    )
    born_precision = forms.ChoiceField(
        choices=Precision,
        label=_("How exactly that day is known"),
        initial=Precision.DAY,
        required=False,
    )
    origin = forms.CharField(
        label=_("Origin"), max_length=200, required=False, help_text=_("Where it came from.")
    )
    owner = owner_field()

    def act(self) -> Animal:
        """Receive it."""
        return actions.receive_animal(**_precise(self.cleaned_data), by=self.by)


class ReceiveGroup(Counted):
    """Which animals came that are counted, not told apart."""

    code = forms.CharField(
        label=_("Code"), max_length=40, help_text=_("Its number in your records.")
    )
    name = forms.CharField(label=_("Name"), max_length=80)
    sort = forms.ChoiceField(choices=Group.Sort, label=_("Kind of group"))
    taxon = RowField(Taxon.objects.all(), label=_("Taxon"))
    life_stage = forms.ChoiceField(
        choices=LifeStage, label=_("Life stage"), initial=LifeStage.ADULT
    )
    enclosure = enclosure_field(_("Live in"))
    males = number_field(_("Males"))
    females = number_field(_("Females"))
    unknown = number_field(_("Of unknown sex"))
    is_estimated = forms.BooleanField(label=_("The number is an estimate"), required=False)
    arrived_on = today(_("Arrived on"))
    born_on = day_field(
        _("Born, hatched or laid on"),
        _("The same day as the arrival if that was here."),
        required=False,
    )
    born_precision = forms.ChoiceField(
        choices=Precision,
        label=_("How exactly that day is known"),
        initial=Precision.DAY,
        required=False,
    )
    owner = owner_field()

    def act(self) -> Group:
        """Receive it."""
        return actions.receive_group(**_precise(self.numbers()), by=self.by)


def _order(label: Any) -> forms.ChoiceField:
    choices = [
        ("", _("as the column shows")),
        (Order.DAY_FIRST.value, _("the day comes first: 04/05 is 4 May")),
        (Order.MONTH_FIRST.value, _("the month comes first: 04/05 is 5 April")),
    ]
    return forms.ChoiceField(choices=choices, label=label, required=False)


class ImportAnimals(DeedForm):
    """A file of animals and groups, with what is to be made along with them.

    A trial (`dry_run`) answers what would become of each row, and writes nothing. Its `sha256` may
    be sent as `kept` in place of the file within the hour, and its `seen` so that nothing is done
    where the register has changed since.
    """

    file = forms.FileField(
        label=_("File"),
        required=False,
        help_text=_(
            "CSV or XLSX. Nothing is written before you have seen what becomes of each row."
        ),
    )
    kept = forms.RegexField(r"^[0-9a-f]{64}$", required=False, strip=True)
    named = forms.CharField(max_length=keeping.MOST_NAME, required=False)
    seen = forms.CharField(max_length=8 * MOST_ROWS, required=False)
    arrived_on_order = _order(_("Days of arrival"))
    born_on_order = _order(_("Days of birth"))
    make_taxa = forms.BooleanField(label=_("Add these taxa too"), required=False)
    make_enclosures = forms.BooleanField(label=_("Open these enclosures too"), required=False)
    dry_run = forms.BooleanField(label=_("Only try it"), required=False)

    held: Kept
    sheet: Sheet

    def clean(self) -> dict[str, Any]:
        """Read the file, or the one that was kept; what cannot be read is told under the field."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        upload, kept = cleaned.get("file"), cleaned.get("kept")
        if self.errors:
            return cleaned
        if upload is None and not kept:
            self.add_error("file", _("Choose a file."))
            return cleaned
        try:
            self.held = (
                keeping.keep(upload, self.by)
                if upload is not None
                else keeping.kept(str(kept), self.by, cleaned["named"])
            )
            self.sheet = self.held.read()
        except Refusal as refused:
            said = refused.fields.get("file", f"{refused.why} {refused.next}")
            self.add_error("file", said)
        return cleaned

    @property
    def orders(self) -> dict[str, Order]:
        """The order of day and month for each column where a person said it."""
        said = {name: self.cleaned_data.get(f"{name}_order") for name in DAY_COLUMNS}
        return {name: Order(order) for name, order in said.items() if order}

    def trial(self) -> dict[str, Any] | None:
        """Give what would become of each row, where that alone was asked."""
        if not self.cleaned_data["dry_run"]:
            return None
        return told.as_dict(weigh(self.sheet, self.orders))

    def act(self) -> Intake:
        """Bring them in."""
        return actions.import_animals(
            self.sheet,
            orders=self.orders,
            seen=self.cleaned_data["seen"],
            make_taxa=self.cleaned_data["make_taxa"],
            make_enclosures=self.cleaned_data["make_enclosures"],
            by=self.by,
        )
