"""The input of each deed on a booking."""

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, Enclosure, Group, Taxon
from registry.animals.relatives import near_kin_among
from registry.choices import MOST_TICKED
from registry.oversight import actions
from registry.oversight.bars import Wanted, barred_from_enrolment, barred_from_offer
from registry.oversight.counting import WINDOWS_D
from registry.oversight.facts import loads_of, subject_of
from registry.oversight.forms.words import LOCAL_CODES, said_with, text_field, ticks
from registry.oversight.models import BookedSubject, Booking
from registry.permissions import Verb
from registry.projects.models import Arm
from registry.web import Deed, DeedForm, day_field, deeds, number_of, reason_field


class RequestBooking(DeedForm):
    """Which animals are wished for, and when."""

    wish = text_field(_("Which animals"), _("How many, of which kind, and why these."))
    starts_on = day_field(_("From"))
    ends_on = day_field(_("To"), _("Within the project's dates."))

    def fit(self) -> None:
        """Start from the project's dates."""
        self.fields["starts_on"].initial = max(self.subject.starts_on, timezone.localdate())
        self.fields["ends_on"].initial = self.subject.ends_on

    def act(self) -> Booking:
        """Ask for it."""
        return actions.request_booking(self.subject, **self.cleaned_data, by=self.by)


class OfferBooking(DeedForm):
    """Which animals, places and dates are offered."""

    caution = format_lazy(
        "{} {}",
        _(
            "An offer lends animals to a study. Weigh what each of them went through of late, and "
            "ask the keepers and the veterinary surgeon where you are not sure."
        ),
        LOCAL_CODES,
    )

    field_order = ("starts_on", "ends_on", "animals", "groups", "places", "other_places")

    animals = ticks(
        Animal.objects.none(),
        _("Animals"),
        _("Contacts are hands-on, in the last 7, 28 and 365 days."),
        required=False,
    )
    groups = text_field(
        _("Counted groups"),
        _("One a line: the group's code, a space, and how many of it, as in CFE-12 36."),
        required=False,
        rows=3,
    )
    places = ticks(
        Enclosure.objects.all(),
        _("Places"),
        _("Those of the plan, and those where such animals live."),
        required=False,
    )
    other_places = forms.CharField(
        label=_("Other places"),
        required=False,
        max_length=400,
        help_text=_("Their codes, with commas between them."),
    )
    starts_on = day_field(_("From"))
    ends_on = day_field(_("To"))
    max_contacts_each = forms.IntegerField(
        label=_("Contacts with each animal at most"),
        required=False,
        min_value=0,
        help_text=_("Leave it empty for no limit beyond the approval's."),
    )
    note = text_field(_("Note to the project"), required=False, rows=3)

    def fit(self) -> None:
        """Offer what is here, with a word beside each animal that is barred."""
        booking: Booking = self.subject
        self.fields["starts_on"].initial = booking.starts_on
        self.fields["ends_on"].initial = booking.ends_on
        field: Any = self.fields["animals"]
        here = Animal.objects.filter(left_on=None).select_related("taxon", "enclosure")
        field.queryset = here.filter(self._looked_for())
        rows = list(field.queryset[: MOST_TICKED + 1])
        self._offer_places({one.enclosure_id for one in rows})
        if len(rows) > MOST_TICKED:  # named, not ticked: the offer itself says what bars each
            return
        said_with(field, self._words(rows), also=self._beside(rows))

    def _looked_for(self) -> Q:
        """The taxa that the project plans with, or any where it says none; and what was sent."""
        project = self.subject.project
        taxa = set(
            Taxon.objects.filter(
                Q(arms__plan__project=project, arms__is_dropped=False)
                | Q(studies__projects=project)
            ).values_list("pk", flat=True)
        )
        if not taxa:
            return Q()
        given: Any = self.data
        sent = [one for one in given.getlist("animals") if number_of(one)] if self.is_bound else []
        return Q(taxon__in=taxa) | Q(pk__in=sent)

    def _offer_places(self, lived_in: set[int | None]) -> None:
        """Offer the places of the plan first, then those where the animals live; and what was sent.

        A plan that names none is offered every place.
        """
        places: Any = self.fields["places"]
        planned = self._planned_places()
        places.initial = planned
        given: Any = self.data
        sent = [one for one in given.getlist("places") if number_of(one)] if self.is_bound else []
        first = [one.pk for one in planned]
        others = Enclosure.objects.exclude(pk__in=first)
        if planned:
            others = others.filter(Q(pk__in=[*lived_in - {None}, *sent]))
        places.queryset = Enclosure.objects.filter(Q(pk__in=first) | Q(pk__in=others.values("pk")))
        groups = (
            (_("In the plan"), planned),
            (_("Such animals live there") if planned else _("Every place"), list(others)),
        )
        places.widget.choices = [
            (said, [(one.pk, f"{one}, {one.code}") for one in those])
            for said, those in groups
            if those
        ]

    def clean_other_places(self) -> list[Enclosure]:
        """Read the codes of other places."""
        said: str = self.cleaned_data["other_places"]
        codes = [code for one in said.split(",") if (code := one.strip())]
        found = {one.code.casefold(): one for one in Enclosure.objects.all()} if codes else {}
        strange = [code for code in codes if code.casefold() not in found]
        if strange:
            raise forms.ValidationError(
                _("No enclosure has the code %(codes)s. Look under Animals, Enclosures.")
                % {"codes": ", ".join(strange)}
            )
        return [found[code.casefold()] for code in codes]

    def clean(self) -> dict[str, Any]:
        """Put the places together; there must be one."""
        cleaned = super().clean() or self.cleaned_data
        others = cleaned.pop("other_places", [])
        together = {one.pk: one for one in [*cleaned.get("places", []), *others]}
        cleaned["places"] = list(together.values())
        if not together and not self.has_error("other_places"):
            self.add_error("places", _("Choose at least one place, or give its code below."))
        return cleaned

    def _planned_places(self) -> list[Enclosure]:
        return list(Enclosure.objects.filter(plans__project=self.subject.project).distinct())

    def _words(self, animals: list[Animal]) -> dict[int, list[str]]:
        booking: Booking = self.subject
        bars = barred_from_offer(
            Wanted(
                booking.project,
                animals,
                [],
                [],
                booking.starts_on,
                booking.ends_on,
                booking.pk,
            )
        )
        return {one.pk: bars[subject_of(one)] for one in animals}

    def _beside(self, animals: list[Animal]) -> dict[int, str]:
        """Say what each bore of late, and to which of the others it is near kin."""
        loads = loads_of(animals, [], timezone.localdate())
        kin = near_kin_among(animals)
        said = {}
        for one in animals:
            counts = loads.get(subject_of(one), {})
            said[one.pk] = _("Contacts %(counts)s") % {
                "counts": ", ".join(str(counts.get(days, 0)) for days in WINDOWS_D)
            }
            if one.pk in kin:
                said[one.pk] += ". " + _("Kin: %(names)s") % {"names": ", ".join(kin[one.pk])}
        return said

    def clean_groups(self) -> list[tuple[Group, int]]:
        """Read one group and its number from each line."""
        read: dict[Group, int] = {}
        for line in self.cleaned_data["groups"].splitlines():
            if not line.strip():
                continue
            code, _space, number = line.strip().rpartition(" ")
            group = Group.objects.filter(code=code.strip(), left_on=None).first()
            if group is None or not (count := number_of(number)) or group in read:
                raise forms.ValidationError(
                    _("“%(line)s” is not the code of a group here with a number, once each.")
                    % {"line": line.strip()}
                )
            read[group] = count
        return list(read.items())

    def act(self) -> Booking:
        """Offer it."""
        return actions.offer_booking(self.subject, **self.cleaned_data, by=self.by)


class ConfirmBooking(DeedForm):
    """Nothing to fill in: all that could bar it is looked at again."""

    caution = format_lazy(
        "{} {}", _("From now on the project can enrol these animals."), LOCAL_CODES
    )

    def act(self) -> Booking:
        """Confirm it."""
        return actions.confirm_booking(self.subject, by=self.by)


class RefuseBooking(DeedForm):
    """Why not."""

    reason = reason_field(_("Why not"), _("The project reads this."))

    def act(self) -> Booking:
        """Refuse it."""
        return actions.refuse_booking(self.subject, **self.cleaned_data, by=self.by)


class ReleaseBooking(DeedForm):
    """Nothing to fill in."""

    intro = _(
        "Its animals and places are free from now on. Every animal must have left the project."
    )

    def act(self) -> Booking:
        """Release it."""
        return actions.release_booking(self.subject, by=self.by)


class Enrol(DeedForm):
    """Which of the booked animals enter the project, from when, and in which arm."""

    caution = format_lazy(
        "{} {}",
        _(
            "Do not enrol an animal that looks unwell or behaves out of its ways: tell a keeper "
            "or the veterinary surgeon."
        ),
        LOCAL_CODES,
    )

    subjects = ticks(BookedSubject.objects.none(), _("Animals"))
    from_on = day_field(_("From"), is_today=True)
    arm = forms.ModelChoiceField(
        Arm.objects.none(), label=_("Treatment or group"), required=False, empty_label=_("none")
    )
    unit = forms.CharField(
        label=_("Experimental unit"),
        max_length=40,
        required=False,
        help_text=_("The tank, tray or pair that a treatment is given to."),
    )
    number = forms.IntegerField(
        label=_("How many of a counted group"),
        min_value=1,
        required=False,
        help_text=_("Leave it empty for all that were booked."),
    )
    codes = text_field(
        _("Codes in the data"),
        _(
            "Only where they differ: one a line, the animal's own code, a space, its code in the "
            "data."
        ),
        required=False,
        rows=3,
    )

    def fit(self) -> None:
        """Offer the booked animals, each with why it may not be enrolled."""
        booking: Booking = self.subject
        chosen: Any = self.fields["subjects"]
        chosen.queryset = booking.subjects.select_related(
            "animal__taxon", "animal__enclosure", "group__taxon", "group__enclosure"
        )
        arms: Any = self.fields["arm"]
        arms.queryset = Arm.objects.filter(plan__project=booking.project, is_dropped=False)
        self.day = self._day()
        self.bars = barred_from_enrolment(
            booking, list(chosen.queryset), self.day, is_together=False
        )
        said_with(chosen, self.bars, free=_("May be enrolled."))

    def _day(self) -> date:
        """The day for which the words hold: the one sent, else today, within the booking."""
        given = self.data.get("from_on") if self.is_bound else self.initial.get("from_on")
        field: Any = self.base_fields["from_on"]
        try:
            day = field.to_python(given) if given else None
        except forms.ValidationError:
            day = None
        booking: Booking = self.subject
        near = min(max(timezone.localdate(), booking.starts_on), booking.ends_on)
        if not self.is_bound and day is None:
            self.fields["from_on"].initial = near
        return day or near

    def clean_codes(self) -> dict[str, str]:
        """Read the code of an animal and its code in the data from each line."""
        read: dict[str, str] = {}
        for line in self.cleaned_data["codes"].splitlines():
            if not line.strip():
                continue
            own, _space, code = line.strip().partition(" ")
            if not code.strip() or own in read or len(code.strip()) > 40:
                raise forms.ValidationError(
                    _("“%(line)s” is not two codes, once each.") % {"line": line.strip()}
                )
            read[own] = code.strip()
        return read

    def clean(self) -> dict[str, Any]:
        """Give each code to the chosen animal that it belongs to."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if "codes" in given and "subjects" in given:
            of = {(one.animal or one.group).code: one.pk for one in given["subjects"]}
            strange = sorted(set(given["codes"]) - set(of))
            if strange:
                self.add_error(
                    "codes",
                    _("Not among the animals chosen: %(codes)s.") % {"codes": ", ".join(strange)},
                )
            else:
                given["codes"] = {of[own]: code for own, code in given["codes"].items()}
        return given

    def act(self) -> Booking:
        """Enrol them."""
        actions.enrol_animals(self.subject, **self.cleaned_data, by=self.by)
        booking: Booking = self.subject
        return booking


REQUEST = Deed(
    Verb.PROJECT_REQUEST_BOOKING,
    RequestBooking,
    _("Request a booking"),
    _("Which animals would you like to work with?"),
    _("The curator answers with an offer of animals, places and dates, or says why not."),
)

BOOKING_DEEDS = deeds(
    Deed(Verb.BOOKING_ENROL, Enrol, _("Enrol animals"), _("Which animals enter the project?")),
    Deed(Verb.BOOKING_OFFER, OfferBooking, _("Offer"), _("What can the collection offer?")),
    Deed(Verb.BOOKING_CONFIRM, ConfirmBooking, _("Confirm"), _("Confirm this booking?")),
    Deed(Verb.BOOKING_RELEASE, ReleaseBooking, _("Release"), _("Release this booking?")),
    Deed(Verb.BOOKING_REFUSE, RefuseBooking, _("Refuse"), _("Why can it not be?")),
)
