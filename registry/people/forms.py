"""The input of each deed on people and bodies, for its page and for the API."""

from typing import Any

from django import forms

from registry.people import actions
from registry.people.letters import send_first_link
from registry.people.models import Body, Institution, Person
from registry.permissions import STANDINGS, Role, Verb
from registry.web import Deed, DeedForm, NarrowForm, deeds, reason_field

_DAY = {"type": "date"}


def _day_field(label: str, help_text: str = "") -> forms.DateField:
    return forms.DateField(
        label=label, help_text=help_text, widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d")
    )


class AddPerson(DeedForm):
    """Who is to sign in; a link to set a password is sent to the e-mail."""

    intro = "A link to set a password goes to the e-mail address. Standing is given afterwards."

    name = forms.CharField(label="Name", max_length=150)
    email = forms.EmailField(label="E-mail", help_text="They sign in with it.")
    institution = forms.ModelChoiceField(
        Institution.objects.all(), label="Institution", required=False, empty_label="none of these"
    )
    post = forms.CharField(
        label="What they look after",
        max_length=150,
        required=False,
        help_text="As others would say it: “penguins and shore birds”.",
    )
    orcid = forms.CharField(label="ORCID", max_length=60, required=False)

    def act(self) -> Person:
        """Add the person, then send the link."""
        person = actions.add_person(**self.cleaned_data, by=self.by)
        send_first_link(person)
        return person


class DescribePerson(DeedForm):
    """One's own name, post and ORCID."""

    name = forms.CharField(label="Name", max_length=150)
    post = forms.CharField(
        label="What you look after",
        max_length=150,
        required=False,
        help_text="As others would say it.",
    )
    orcid = forms.CharField(
        label="ORCID",
        max_length=60,
        required=False,
        help_text="It stands in the citation of every dataset that you help to make.",
    )

    def fit(self) -> None:
        """Begin with what stands there now."""
        for name, field in self.fields.items():
            field.initial = getattr(self.subject, name)

    def act(self) -> Person:
        """Change them."""
        return actions.describe_person(self.subject, **self.cleaned_data, by=self.by)


def _held(person: Person) -> list[tuple[str, str]]:
    held = person.standings.filter(ended_on=None).values_list("role", flat=True)
    return [(role, Role(role).label) for role in held]


class GiveStanding(DeedForm):
    """Which standing, and why."""

    role = forms.ChoiceField(
        label="Standing", choices=[(role.value, role.label) for role in STANDINGS]
    )
    reason = reason_field("Why they have it", "It stays in the ledger.")

    def act(self) -> Person:
        """Give it."""
        return actions.give_standing(self.subject, **self.cleaned_data, by=self.by).person


class EndStanding(DeedForm):
    """Which standing, and why it ends."""

    role = forms.ChoiceField(label="Standing", choices=[])
    reason = reason_field("Why it ends", "It stays in the ledger.")

    def fit(self) -> None:
        """Offer the standings held now."""
        field: Any = self.fields["role"]
        field.choices = _held(self.subject)

    def act(self) -> Person:
        """End it."""
        return actions.end_standing(self.subject, **self.cleaned_data, by=self.by).person


class InductPerson(DeedForm):
    """What they were shown, when, and until when it holds."""

    caution = (
        "An induction says that somebody was shown how to work safely there. It does not replace "
        "your local code of practice or the supervision that it asks for."
    )

    about = forms.CharField(label="The place or the work", max_length=200)
    given_on = _day_field("Given on")
    expires_on = _day_field("Holds until")

    def act(self) -> Person:
        """Record it."""
        return actions.induct_person(self.subject, **self.cleaned_data, by=self.by).person


class OpenBody(DeedForm):
    """A committee, an ethics body, an owner, a safety office."""

    name = forms.CharField(label="Name", max_length=200)
    institution = forms.ModelChoiceField(Institution.objects.all(), label="Institution")
    is_ethics = forms.BooleanField(
        label="It weighs welfare",
        required=False,
        help_text="Its chair then handles concerns, and lifts halts with a veterinary surgeon.",
    )
    quorum = forms.IntegerField(
        label="Quorum",
        min_value=1,
        max_value=50,
        initial=2,
        help_text="Members who must have taken part in a decision, the chair included.",
    )

    def act(self) -> Body:
        """Set it up."""
        return actions.open_body(**self.cleaned_data, by=self.by)


class SeatMember(DeedForm):
    """Who, and whether as chair."""

    person = forms.ModelChoiceField(Person.objects.none(), label="Person")
    is_chair = forms.BooleanField(label="As chair", required=False)

    def fit(self) -> None:
        """Offer the people who have no seat here."""
        field: Any = self.fields["person"]
        field.queryset = (
            Person.objects.real()
            .filter(is_active=True)
            .exclude(seats__in=self.subject.seats.filter(ended_on=None))
        )

    def act(self) -> Body:
        """Seat them."""
        return actions.seat_member(self.subject, **self.cleaned_data, by=self.by).body


class EndSeat(DeedForm):
    """Whose seat, and why it ends."""

    person = forms.ModelChoiceField(Person.objects.none(), label="Person")
    reason = reason_field("Why it ends", "It stays in the ledger.")

    def fit(self) -> None:
        """Offer the people who have a seat here."""
        field: Any = self.fields["person"]
        field.queryset = Person.objects.filter(seats__in=self.subject.seats.filter(ended_on=None))

    def act(self) -> Body:
        """End it."""
        return actions.end_seat(self.subject, **self.cleaned_data, by=self.by).body


class MakeToken(NarrowForm):
    """What the program is called, and for how long it may act."""

    name = forms.CharField(
        label="What it is for", max_length=100, help_text="The program that will use it."
    )
    days = forms.IntegerField(label="Days until it expires", min_value=1, max_value=366, initial=90)


ADD = Deed(
    Verb.PERSON_ADD, AddPerson, "Add the person", "Who is to sign in?", "One account a person."
)
OPEN = Deed(
    Verb.BODY_OPEN,
    OpenBody,
    "Set up the body",
    "Which body decides?",
    "A body grants or refuses approvals; its members never decide on a project of their own.",
)

DEEDS = deeds(
    Deed(Verb.PERSON_DESCRIBE, DescribePerson, "Change my details", "Your own details"),
    Deed(Verb.PERSON_INDUCT, InductPerson, "Record an induction", "What were they shown?"),
    Deed(Verb.PERSON_GIVE_STANDING, GiveStanding, "Give standing", "What may they do here?"),
    Deed(Verb.PERSON_END_STANDING, EndStanding, "End a standing", "Which standing ends?"),
)

BODY_DEEDS = deeds(
    Deed(Verb.BODY_SEAT, SeatMember, "Seat a member", "Who takes a seat?"),
    Deed(Verb.BODY_UNSEAT, EndSeat, "End a seat", "Whose seat ends?"),
)
