"""The input of each deed on taxa, enclosures, animals, groups and restrictions."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.actions.events import CHANGES
from registry.animals.intake import keeping, told
from registry.animals.intake.dates import Order
from registry.animals.intake.keeping import Kept
from registry.animals.intake.limits import MOST_ROWS
from registry.animals.intake.reading import Sheet
from registry.animals.intake.weighing import DAY_COLUMNS, weigh
from registry.animals.models import (
    Animal,
    Enclosure,
    Event,
    Group,
    Intake,
    LifeStage,
    Mark,
    Restriction,
    Sex,
    Taxon,
    TaxonClass,
    Word,
)
from registry.choices import RowField
from registry.errors import Refusal
from registry.people.models import Institution
from registry.permissions import Verb
from registry.saying import day_said
from registry.web import Deed, DeedForm, NarrowForm, Words, day_field, deeds, reason_field

LOCAL_CODES = _(
    "Follow the rules of your collection and the law where you work; this program advises nobody."
)


def _today(label: Words) -> forms.DateField:
    return day_field(label, is_today=True)


_NOTE = _("Note")


def _note(
    label: Words = _NOTE, help_text: Words = "", *, required: bool = False
) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        help_text=help_text,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def _enclosure(label: Words) -> RowField:
    return RowField(Enclosure.objects.all(), label=label)


def _owner() -> forms.ModelChoiceField[Institution]:
    return forms.ModelChoiceField(
        Institution.objects.all(),
        label=_("Owner"),
        required=False,
        empty_label=_("this collection"),
        help_text=_("Only where another institution owns it."),
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

    def act(self) -> Enclosure:
        """Open it."""
        return actions.open_enclosure(**self.cleaned_data, by=self.by)


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
    enclosure = _enclosure(_("Lives in"))
    arrived_on = _today(_("Arrived on"))
    born_on = day_field(
        _("Born or hatched on"),
        _("The same day as the arrival if it was born here."),
        required=False,
    )
    origin = forms.CharField(
        label=_("Origin"), max_length=200, required=False, help_text=_("Where it came from.")
    )
    owner = _owner()

    def act(self) -> Animal:
        """Receive it."""
        return actions.receive_animal(**self.cleaned_data, by=self.by)


def _number(label: Words, help_text: Words = "", *, lowest: int | None = 0) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        help_text=help_text,
        min_value=lowest,
        max_value=10_000_000,
        required=False,
        initial=0,
    )


class Counted(DeedForm):
    """Numbers of males, females and those of unknown sex; an empty one is 0."""

    def numbers(self) -> dict[str, Any]:
        """Give the cleaned data with 0 where no number was given."""
        names = ("males", "females", "unknown")
        return {**self.cleaned_data, **{name: self.cleaned_data[name] or 0 for name in names}}


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
    enclosure = _enclosure(_("Live in"))
    males = _number(_("Males"))
    females = _number(_("Females"))
    unknown = _number(_("Of unknown sex"))
    arrived_on = _today(_("Arrived on"))
    owner = _owner()

    def act(self) -> Group:
        """Receive it."""
        return actions.receive_group(**self.numbers(), by=self.by)


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


class Move(DeedForm):
    """Where to, and when."""

    enclosure = _enclosure(_("To"))
    happened_on = _today(_("On"))
    note = _note(_("Why"))

    def fit(self) -> None:
        """Offer every enclosure but its own."""
        field: Any = self.fields["enclosure"]
        field.queryset = Enclosure.objects.exclude(pk=self.subject.enclosure_id)


class MoveAnimal(Move):
    """Where to, and when."""

    def act(self) -> Animal:
        """Move it."""
        return actions.move_animal(self.subject, **self.cleaned_data, by=self.by)


class MoveGroup(Move):
    """Where to, and when."""

    def act(self) -> Group:
        """Move it."""
        return actions.move_group(self.subject, **self.cleaned_data, by=self.by)


class Leave(DeedForm):
    """Whether it departed or died, and when."""

    caution = format_lazy(
        "{} {}",
        _(
            "Whether an animal is to be killed, and how, is for the veterinary surgeon to say and "
            "for a trained and licensed person to do. Ask before you move a body: it may have to "
            "be examined, and it may carry disease."
        ),
        LOCAL_CODES,
    )
    sort = forms.ChoiceField(
        choices=[(sort.value, sort.label) for sort in (Event.Sort.DEPARTED, Event.Sort.DIED)],
        label=_("What happened"),
        widget=forms.RadioSelect,
    )
    happened_on = _today(_("On"))
    note = _note(_("Where to, or of what"), _("The place or the cause, as far as it is known."))


class LeaveAnimal(Leave):
    """Whether the animal departed or died, and when."""

    def act(self) -> Animal:
        """Record it."""
        return actions.leave_animal(self.subject, **self.cleaned_data, by=self.by)


class LeaveGroup(Leave):
    """Whether all that are left of it departed or died, and when."""

    def act(self) -> Group:
        """Record it."""
        return actions.leave_group(self.subject, **self.cleaned_data, by=self.by)


class CountGroup(Counted):
    """By how many each number changed; losses with a minus."""

    intro = _(
        "Give by how many each number changed, not how many there are. Two of unknown sex that "
        "were found to be a male and a female: 1, 1 and -2."
    )
    sort = forms.ChoiceField(
        choices=[(sort.value, sort.label) for sort in CHANGES],
        label=_("What happened"),
        initial=Event.Sort.COUNTED,
    )
    males = _number(_("Males, change"), lowest=-10_000_000)
    females = _number(_("Females, change"), lowest=-10_000_000)
    unknown = _number(_("Of unknown sex, change"), lowest=-10_000_000)
    happened_on = _today(_("On"))
    note = _note()

    def act(self) -> Group:
        """Record it."""
        return actions.count_group(self.subject, **self.numbers(), by=self.by)


class MarkAnimal(DeedForm):
    """A chip, a tag, a natural mark."""

    caution = format_lazy(
        "{} {}",
        _(
            "To read a chip or look at a mark is husbandry. To put in a chip or a tag, to notch "
            "or to clip harms the animal: only a trained person does it, with the veterinary "
            "surgeon's word. Done for a study, it may need a licence."
        ),
        LOCAL_CODES,
    )
    sort = forms.ChoiceField(choices=Mark.Sort, label=_("Kind"), widget=forms.RadioSelect)
    said = forms.CharField(
        label=_("Code or description"),
        max_length=200,
        help_text=_("The fifteen digits of a chip as the reader shows them, or where the mark is."),
    )

    def act(self) -> Animal:
        """Record it."""
        actions.mark_animal(self.subject, **self.cleaned_data, by=self.by)
        animal: Animal = self.subject
        return animal


class Restrict(DeedForm):
    """Why one keeps off, from when, and what it bars."""

    caution = format_lazy(
        "{} {}",
        _(
            "This keeps students and studies off from the day on; it calls nobody. If an animal "
            "may be in pain or in danger, tell the veterinary surgeon now, and do what they say."
        ),
        LOCAL_CODES,
    )
    sort = forms.ChoiceField(
        # What a keeper sees beside the tank stands first: no scrolling with wet hands.
        choices=sorted(Restriction.Sort.choices, key=lambda one: one[0] != "welfare"),
        label=_("Why"),
        initial=Restriction.Sort.WELFARE,
        widget=forms.RadioSelect,
    )
    note = _note(_("What you saw"), _("One line is enough."))
    strength = forms.ChoiceField(
        choices=Restriction.Strength,
        label=_("What it bars"),
        initial=Restriction.Strength.BARS_ALL,
        widget=forms.RadioSelect,
    )
    began_on = _today(_("From"))
    expected_end_on = day_field(
        _("Expected end"),
        _("It bars until someone ends it, also after this day."),
        required=False,
    )

    def act(self) -> Restriction:
        """Begin it."""
        return actions.begin_restriction(self.subject, **self.cleaned_data, by=self.by)


class End(DeedForm):
    """From which day it is free again, and why."""

    caution = format_lazy(
        "{} {}",
        _(
            "An animal that was treated or in quarantine is free when the veterinary surgeon says "
            "so. If you are not sure, leave it as it is and ask."
        ),
        LOCAL_CODES,
    )
    ended_on = _today(_("Free again from"))
    reason = reason_field(_("Why it is free again"))

    @property
    def matter(self) -> str:
        """What was seen, by whom and when."""
        begun = gettext("Begun by {person} on {day}.").format(
            person=self.subject.begun_by.name, day=day_said(self.subject.began_on)
        )
        return " ".join(filter(None, [self.subject.note, begun]))

    def act(self) -> Restriction:
        """End it."""
        return actions.end_restriction(self.subject, **self.cleaned_data, by=self.by)


class TakeBackAnimalEvent(DeedForm):
    """Why what was last recorded was wrong."""

    reason = reason_field(_("What was wrong"), _("It stays readable, with what was taken back."))

    def act(self) -> Animal:
        """Take it back."""
        return actions.take_back_animal_event(self.subject, **self.cleaned_data, by=self.by)


class TakeBackGroupEvent(DeedForm):
    """Why what was last recorded was wrong."""

    reason = reason_field(_("What was wrong"), _("It stays readable, with what was taken back."))

    def act(self) -> Group:
        """Take it back."""
        return actions.take_back_group_event(self.subject, **self.cleaned_data, by=self.by)


ADD_TAXON = Deed(Verb.TAXON_ADD, AddTaxon, _("Add the taxon"), _("Which kind of animal is it?"))
OPEN_ENCLOSURE = Deed(
    Verb.ENCLOSURE_OPEN, OpenEnclosure, _("Open the enclosure"), _("Which enclosure is it?")
)
RECEIVE_ANIMAL = Deed(
    Verb.ANIMAL_RECEIVE,
    ReceiveAnimal,
    _("Receive the animal"),
    _("Which animal came?"),
    _("One that you can tell apart. A shoal, a clutch or a colony is received as a group."),
)
RECEIVE_GROUP = Deed(
    Verb.GROUP_RECEIVE,
    ReceiveGroup,
    _("Receive the group"),
    _("Which animals came?"),
    _("Animals that are counted and not told apart."),
)

IMPORT = Deed(
    Verb.ANIMAL_IMPORT,
    ImportAnimals,
    _("Bring them in"),
    _("Which animals does your list hold?"),
    _("Send a list, and see what would become of each row. Nothing is written before you say so."),
)

_LEFT_HERE = _("Whoever does this is named in the ledger; nothing is deleted.")

ANIMAL_DEEDS = deeds(
    Deed(Verb.ANIMAL_RESTRICT, Restrict, _("Keep off this animal"), _("Keep off this animal")),
    Deed(Verb.ANIMAL_MOVE, MoveAnimal, _("Move"), _("Where does it live from now on?")),
    Deed(Verb.ANIMAL_MARK, MarkAnimal, _("Record a mark"), _("How do you tell it apart?")),
    Deed(Verb.ANIMAL_LEAVE, LeaveAnimal, _("Departed or died"), _("Has it departed or died?")),
    Deed(
        Verb.ANIMAL_TAKE_BACK,
        TakeBackAnimalEvent,
        _("Take back the newest event"),
        _("Was the newest event wrong?"),
        _LEFT_HERE,
    ),
)
GROUP_DEEDS = deeds(
    Deed(
        Verb.GROUP_RESTRICT,
        Restrict,
        _("Keep off this group"),
        _("Keep off this group"),
        _("Nobody can tell its animals apart, so what bars one bars all."),
    ),
    Deed(Verb.GROUP_COUNT, CountGroup, _("Change the number"), _("By how many did it change?")),
    Deed(Verb.GROUP_MOVE, MoveGroup, _("Move"), _("Where do they live from now on?")),
    Deed(
        Verb.GROUP_LEAVE,
        LeaveGroup,
        _("All departed or died"),
        _("Have all that were left departed or died?"),
        _("If some stay, record a change of number instead."),
    ),
    Deed(
        Verb.GROUP_TAKE_BACK,
        TakeBackGroupEvent,
        _("Take back the newest event"),
        _("Was the newest event wrong?"),
        _LEFT_HERE,
    ),
)
ENCLOSURE_DEEDS = deeds(
    Deed(
        Verb.ENCLOSURE_RESTRICT,
        Restrict,
        _("Keep off this enclosure"),
        _("Keep off this enclosure"),
        _("It bars every animal that lives in it."),
    ),
)
RESTRICTION_DEEDS = deeds(
    Deed(Verb.RESTRICTION_END, End, _("End it"), _("Is it free again?")),
)


class CollectionFilter(NarrowForm):
    """Which animals and groups of the collection to list."""

    taxon = RowField(
        Taxon.objects.all(), label=_("Taxon"), required=False, empty_label=_("every taxon")
    )
    enclosure = RowField(
        Enclosure.objects.all(), label=_("Lives in"), required=False, empty_label=_("anywhere")
    )
    word = forms.ChoiceField(
        choices=[("", _("any, while it lives here")), *Word.choices], label=_("Is"), required=False
    )
