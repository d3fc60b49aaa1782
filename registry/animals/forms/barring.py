"""The input of deeds that keep off, and that say it is free again."""

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.forms.fields import LOCAL_CODES, note, today
from registry.animals.models import Restriction
from registry.saying import day_said
from registry.web import DeedForm, day_field, reason_field


class Restrict(DeedForm):
    """Why one keeps off, from when, and what it bars."""

    is_urgent = True
    caution = format_lazy(
        "{} {}",
        _(
            "This keeps students and studies off from the day on. Whoever has it in a study is "
            "written to; nobody is called. If an animal may be in pain or in danger, tell the "
            "veterinary surgeon now, and do what they say."
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
    note = note(_("What you saw"), _("One line is enough."))
    strength = forms.ChoiceField(
        choices=[("", _("as is usual for it")), *Restriction.Strength.choices],
        label=_("What it bars"),
        required=False,
        widget=forms.RadioSelect,
        help_text=_(
            "Usual: gravid, rearing and resting are open to observation; a treatment waits for the"
            " veterinary surgeon; all else bars all."
        ),
    )
    began_on = today(_("From"))
    expected_end_on = day_field(
        _("Expected end"),
        _("It bars until someone ends it, also after this day."),
        required=False,
    )
    earliest_end_on = day_field(
        _("Earliest end"),
        _("A quarantine needs it: nobody may end it before, and a veterinary surgeon clears it."),
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
    ended_on = today(_("Free again from"))
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
