"""The input of each deed on a body that decides, for its page and for the API."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.people import actions
from registry.people.models import Body, BodyKind, Institution, Meeting, Person
from registry.permissions import Verb
from registry.saying import day_said
from registry.web import Deed, DeedForm, day_field, deeds, reason_field


def _quorum() -> forms.IntegerField:
    return forms.IntegerField(
        label=_("Quorum"),
        min_value=1,
        max_value=50,
        initial=2,
        help_text=_("Members who must have taken part in a decision, the chair included."),
    )


def _lead_time() -> forms.IntegerField:
    return forms.IntegerField(
        label=_("Days before a meeting by which papers must be in"),
        min_value=0,
        max_value=365,
        initial=0,
        required=False,
    )


class OpenBody(DeedForm):
    """A committee, an ethics body, an owner, a safety office."""

    name = forms.CharField(label=_("Name"), max_length=200)
    sort = forms.ModelChoiceField(
        BodyKind.objects.all(),
        label=_("Kind of body"),
        required=False,
        empty_label=_("none of these"),
        help_text=_("From the reference data, which say where each is known."),
    )
    institution = forms.ModelChoiceField(Institution.objects.all(), label=_("Institution"))
    is_ethics = forms.BooleanField(
        label=_("It weighs welfare"),
        required=False,
        help_text=_("Its chair then handles concerns, and lifts halts with a veterinary surgeon."),
    )
    quorum = _quorum()
    lead_time_d = _lead_time()

    def act(self) -> Body:
        """Set it up."""
        lead_time_d = self.cleaned_data.pop("lead_time_d") or 0
        return actions.open_body(**self.cleaned_data, lead_time_d=lead_time_d, by=self.by)


class DescribeBody(DeedForm):
    """Its quorum, and how early it wants papers."""

    intro = _("Decisions that were taken stay as they are, and so do planned meetings.")

    quorum = _quorum()
    lead_time_d = _lead_time()

    def fit(self) -> None:
        """Begin with what holds now."""
        held = {"quorum": self.subject.quorum, "lead_time_d": self.subject.lead_time_d}
        self.initial = {**held, **self.initial}

    def act(self) -> Body:
        """Change it."""
        lead_time_d = self.cleaned_data.pop("lead_time_d") or 0
        return actions.describe_body(
            self.subject, **self.cleaned_data, lead_time_d=lead_time_d, by=self.by
        )


class PlanMeeting(DeedForm):
    """When it meets, and by when it wants papers."""

    held_on = day_field(_("The body meets on"))
    papers_by = day_field(
        _("Papers are in by"),
        _("Leave empty for as many days before as the body always asks."),
        required=False,
    )

    def act(self) -> Body:
        """Plan it."""
        return actions.plan_meeting(self.subject, **self.cleaned_data, by=self.by).body


class CallOff(DeedForm):
    """Which meeting, and why."""

    meeting = forms.ModelChoiceField(Meeting.objects.none(), label=_("Meeting"))
    reason = reason_field(_("Why it is called off"), _("Those who wait for it read this."))

    def fit(self) -> None:
        """Offer the meetings to come."""
        field: Any = self.fields["meeting"]
        field.queryset = self.subject.meetings.to_come()
        field.label_from_instance = lambda one: day_said(one.held_on)

    def act(self) -> Body:
        """Call it off."""
        return actions.call_off_meeting(self.subject, **self.cleaned_data, by=self.by).body


class SeatMember(DeedForm):
    """Who, and whether as chair."""

    person = RowField(Person.objects.none(), label=_("Person"))
    is_chair = forms.BooleanField(label=_("As chair"), required=False)

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

    person = RowField(Person.objects.none(), label=_("Person"))
    reason = reason_field(_("Why it ends"), _("It stays in the ledger."))

    def fit(self) -> None:
        """Offer the people who have a seat here."""
        field: Any = self.fields["person"]
        field.queryset = Person.objects.filter(seats__in=self.subject.seats.filter(ended_on=None))

    def act(self) -> Body:
        """End it."""
        return actions.end_seat(self.subject, **self.cleaned_data, by=self.by).body


OPEN = Deed(
    Verb.BODY_OPEN,
    OpenBody,
    _("Set up the body"),
    _("Which body decides?"),
    _("A body grants or refuses approvals; its members never decide on a project of their own."),
)

BODY_DEEDS = deeds(
    Deed(Verb.BODY_PLAN_MEETING, PlanMeeting, _("Plan a meeting"), _("When does this body meet?")),
    Deed(Verb.BODY_CALL_OFF, CallOff, _("Call a meeting off"), _("Which meeting is not held?")),
    Deed(Verb.BODY_DESCRIBE, DescribeBody, _("Change how it works"), _("How does it decide?")),
    Deed(Verb.BODY_SEAT, SeatMember, _("Seat a member"), _("Who takes a seat?")),
    Deed(Verb.BODY_UNSEAT, EndSeat, _("End a seat"), _("Whose seat ends?")),
)
