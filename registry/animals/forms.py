"""The input of each deed on taxa, enclosures, animals, groups and restrictions."""

from typing import Any

from django import forms
from django.utils import timezone

from registry.animals import actions
from registry.animals.models import (
    Animal,
    Enclosure,
    Event,
    Group,
    LifeStage,
    Mark,
    Restriction,
    Sex,
    Taxon,
    TaxonClass,
    Word,
)
from registry.people.models import Institution
from registry.permissions import Verb
from registry.web import Deed, DeedForm, NarrowForm, deeds, reason_field

LOCAL_CODES = (
    "Follow the rules of your collection and the law where you work; this program advises nobody."
)


def _day(label: str, *, help_text: str = "", required: bool = True) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=required,
        help_text=help_text,
        initial=timezone.localdate if required else None,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


def _note(label: str = "Note", help_text: str = "", *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        help_text=help_text,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def _enclosure(label: str) -> forms.ModelChoiceField[Enclosure]:
    return forms.ModelChoiceField(Enclosure.objects.all(), label=label)


def _owner() -> forms.ModelChoiceField[Institution]:
    return forms.ModelChoiceField(
        Institution.objects.all(),
        label="Owner",
        required=False,
        empty_label="this collection",
        help_text="Only where another institution owns it.",
    )


class AddTaxon(DeedForm):
    """What kind of animal it is."""

    common_name = forms.CharField(label="Common name", max_length=120)
    scientific_name = forms.CharField(
        label="Scientific name", max_length=120, help_text="Genus and species, as in Raja undulata."
    )
    taxon_class = forms.ChoiceField(choices=TaxonClass, label="Class")
    source = forms.CharField(
        label="Source",
        max_length=200,
        required=False,
        help_text="Where the name was looked up, and when.",
    )

    def act(self) -> Taxon:
        """Add it."""
        return actions.add_taxon(**self.cleaned_data, by=self.by)


class OpenEnclosure(DeedForm):
    """A tank, pool or run."""

    code = forms.CharField(
        label="Code", max_length=20, help_text="Short, as it stands on the tank."
    )
    name = forms.CharField(label="Name", max_length=120)
    is_on_show = forms.BooleanField(
        label="On show", required=False, help_text="Visitors can see into it."
    )

    def act(self) -> Enclosure:
        """Open it."""
        return actions.open_enclosure(**self.cleaned_data, by=self.by)


class ReceiveAnimal(DeedForm):
    """Which animal came, from where, and where it lives."""

    code = forms.CharField(label="Code", max_length=40, help_text="Its number in your records.")
    name = forms.CharField(label="Name", max_length=80, required=False)
    taxon = forms.ModelChoiceField(Taxon.objects.all(), label="Taxon")
    sex = forms.ChoiceField(
        choices=Sex,
        label="Sex",
        initial=Sex.UNKNOWN,
        help_text="Undetermined: looked and could not tell. Unknown: not looked.",
    )
    life_stage = forms.ChoiceField(choices=LifeStage, label="Life stage", initial=LifeStage.ADULT)
    enclosure = _enclosure("Lives in")
    arrived_on = _day("Arrived on")
    born_on = _day(
        "Born or hatched on",
        required=False,
        help_text="The same day as the arrival if it was born here.",
    )
    origin = forms.CharField(
        label="Origin", max_length=200, required=False, help_text="Where it came from."
    )
    owner = _owner()

    def act(self) -> Animal:
        """Receive it."""
        return actions.receive_animal(**self.cleaned_data, by=self.by)


def _number(label: str, help_text: str = "", *, lowest: int | None = 0) -> forms.IntegerField:
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

    code = forms.CharField(label="Code", max_length=40, help_text="Its number in your records.")
    name = forms.CharField(label="Name", max_length=80)
    sort = forms.ChoiceField(choices=Group.Sort, label="Kind of group")
    taxon = forms.ModelChoiceField(Taxon.objects.all(), label="Taxon")
    life_stage = forms.ChoiceField(choices=LifeStage, label="Life stage", initial=LifeStage.ADULT)
    enclosure = _enclosure("Live in")
    males = _number("Males")
    females = _number("Females")
    unknown = _number("Of unknown sex")
    arrived_on = _day("Arrived on")
    owner = _owner()

    def act(self) -> Group:
        """Receive it."""
        return actions.receive_group(**self.numbers(), by=self.by)


class Move(DeedForm):
    """Where to, and when."""

    enclosure = _enclosure("To")
    happened_on = _day("On")
    note = _note("Why")

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

    caution = (
        "Whether an animal is to be killed, and how, is for the veterinary surgeon to say and for "
        "a trained and licensed person to do. Ask before you move a body: it may have to be "
        f"examined, and it may carry disease. {LOCAL_CODES}"
    )
    sort = forms.ChoiceField(
        choices=[(sort.value, sort.label) for sort in (Event.Sort.DEPARTED, Event.Sort.DIED)],
        label="What happened",
        widget=forms.RadioSelect,
    )
    happened_on = _day("On")
    note = _note("Where to, or of what", "The place or the cause, as far as it is known.")


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

    intro = (
        "Give by how many each number changed, not how many there are. Two of unknown sex that "
        "were found to be a male and a female: 1, 1 and -2."
    )
    sort = forms.ChoiceField(
        choices=[(sort.value, sort.label) for sort in Event.Sort if sort != Event.Sort.MOVED],
        label="What happened",
        initial=Event.Sort.COUNTED,
    )
    males = _number("Males, change", lowest=-10_000_000)
    females = _number("Females, change", lowest=-10_000_000)
    unknown = _number("Of unknown sex, change", lowest=-10_000_000)
    happened_on = _day("On")
    note = _note()

    def act(self) -> Group:
        """Record it."""
        return actions.count_group(self.subject, **self.numbers(), by=self.by)


class MarkAnimal(DeedForm):
    """A chip, a tag, a natural mark."""

    caution = (
        "To read a chip or look at a mark is husbandry. To put in a chip or a tag, to notch or to "
        "clip harms the animal: only a trained person does it, with the veterinary surgeon's word. "
        f"Done for a study, it may need a licence. {LOCAL_CODES}"
    )
    sort = forms.ChoiceField(choices=Mark.Sort, label="Kind", widget=forms.RadioSelect)
    said = forms.CharField(
        label="Code or description",
        max_length=200,
        help_text="The fifteen digits of a chip as the reader shows them, or where the mark is.",
    )

    def act(self) -> Animal:
        """Record it."""
        actions.mark_animal(self.subject, **self.cleaned_data, by=self.by)
        animal: Animal = self.subject
        return animal


class Restrict(DeedForm):
    """Why one keeps off, from when, and what it bars."""

    caution = (
        "This keeps students and studies off from the day on; it calls nobody. If an animal may be "
        "in pain or in danger, tell the veterinary surgeon now, and do what they say. "
        f"{LOCAL_CODES}"
    )
    sort = forms.ChoiceField(
        # What a keeper sees beside the tank stands first: no scrolling with wet hands.
        choices=sorted(Restriction.Sort.choices, key=lambda one: one[0] != "welfare"),
        label="Why",
        initial=Restriction.Sort.WELFARE,
        widget=forms.RadioSelect,
    )
    note = _note("What you saw", "One line is enough.")
    strength = forms.ChoiceField(
        choices=Restriction.Strength,
        label="What it bars",
        initial=Restriction.Strength.BARS_ALL,
        widget=forms.RadioSelect,
    )
    began_on = _day("From")
    expected_end_on = _day(
        "Expected end",
        required=False,
        help_text="It bars until someone ends it, also after this day.",
    )

    def act(self) -> Restriction:
        """Begin it."""
        return actions.begin_restriction(self.subject, **self.cleaned_data, by=self.by)


class End(DeedForm):
    """From which day it is free again, and why."""

    caution = (
        "An animal that was treated or in quarantine is free when the veterinary surgeon says so. "
        f"If you are not sure, leave it as it is and ask. {LOCAL_CODES}"
    )
    ended_on = _day("Free again from")
    reason = reason_field("Why it is free again")

    def act(self) -> Restriction:
        """End it."""
        return actions.end_restriction(self.subject, **self.cleaned_data, by=self.by)


class TakeBackAnimalEvent(DeedForm):
    """Why what was last recorded was wrong."""

    reason = reason_field("What was wrong", "It stays readable, with what was taken back.")

    def act(self) -> Animal:
        """Take it back."""
        return actions.take_back_animal_event(self.subject, **self.cleaned_data, by=self.by)


class TakeBackGroupEvent(DeedForm):
    """Why what was last recorded was wrong."""

    reason = reason_field("What was wrong", "It stays readable, with what was taken back.")

    def act(self) -> Group:
        """Take it back."""
        return actions.take_back_group_event(self.subject, **self.cleaned_data, by=self.by)


ADD_TAXON = Deed(Verb.TAXON_ADD, AddTaxon, "Add the taxon", "Which kind of animal is it?")
OPEN_ENCLOSURE = Deed(
    Verb.ENCLOSURE_OPEN, OpenEnclosure, "Open the enclosure", "Which enclosure is it?"
)
RECEIVE_ANIMAL = Deed(
    Verb.ANIMAL_RECEIVE,
    ReceiveAnimal,
    "Receive the animal",
    "Which animal came?",
    "One that you can tell apart. A shoal, a clutch or a colony is received as a group.",
)
RECEIVE_GROUP = Deed(
    Verb.GROUP_RECEIVE,
    ReceiveGroup,
    "Receive the group",
    "Which animals came?",
    "Animals that are counted and not told apart.",
)

_LEFT_HERE = "Whoever does this is named in the ledger; nothing is deleted."

ANIMAL_DEEDS = deeds(
    Deed(Verb.ANIMAL_RESTRICT, Restrict, "Keep off this animal", "Keep off this animal"),
    Deed(Verb.ANIMAL_MOVE, MoveAnimal, "Move", "Where does it live from now on?"),
    Deed(Verb.ANIMAL_MARK, MarkAnimal, "Record a mark", "How do you tell it apart?"),
    Deed(Verb.ANIMAL_LEAVE, LeaveAnimal, "Departed or died", "Has it departed or died?"),
    Deed(
        Verb.ANIMAL_TAKE_BACK,
        TakeBackAnimalEvent,
        "Take back the newest event",
        "Was the newest event wrong?",
        _LEFT_HERE,
    ),
)
GROUP_DEEDS = deeds(
    Deed(
        Verb.GROUP_RESTRICT,
        Restrict,
        "Keep off this group",
        "Keep off this group",
        "Nobody can tell its animals apart, so what bars one bars all.",
    ),
    Deed(Verb.GROUP_COUNT, CountGroup, "Change the number", "By how many did it change?"),
    Deed(Verb.GROUP_MOVE, MoveGroup, "Move", "Where do they live from now on?"),
    Deed(
        Verb.GROUP_LEAVE,
        LeaveGroup,
        "All departed or died",
        "Have all that were left departed or died?",
        "If some stay, record a change of number instead.",
    ),
    Deed(
        Verb.GROUP_TAKE_BACK,
        TakeBackGroupEvent,
        "Take back the newest event",
        "Was the newest event wrong?",
        _LEFT_HERE,
    ),
)
ENCLOSURE_DEEDS = deeds(
    Deed(
        Verb.ENCLOSURE_RESTRICT,
        Restrict,
        "Keep off this enclosure",
        "Keep off this enclosure",
        "It bars every animal that lives in it.",
    ),
)
RESTRICTION_DEEDS = deeds(
    Deed(Verb.RESTRICTION_END, End, "End it", "Is it free again?"),
)


class CollectionFilter(NarrowForm):
    """Which animals and groups of the collection to list."""

    taxon = forms.ModelChoiceField(
        Taxon.objects.all(), label="Taxon", required=False, empty_label="every taxon"
    )
    enclosure = forms.ModelChoiceField(
        Enclosure.objects.all(), label="Lives in", required=False, empty_label="anywhere"
    )
    word = forms.ChoiceField(
        choices=[("", "any, while it lives here"), *Word.choices], label="Is", required=False
    )
