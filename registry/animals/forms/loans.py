"""The input of deeds on whose an animal is."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.forms.fields import LOCAL_CODES, note, owner_field, today
from registry.animals.models import Loan
from registry.choices import RowField
from registry.people.models import Institution
from registry.permissions import Verb
from registry.web import Deed, DeedForm, day_field, deeds


class ChangeOwner(DeedForm):
    """Whose it is from now on."""

    owner = owner_field()
    happened_on = today(_("From"))
    note = note()

    def fit(self) -> None:
        """Begin with whose it is."""
        self.fields["owner"].initial = self.subject.owner_id

    def act(self) -> Any:
        """Record it."""
        return actions.change_owner(self.subject, **self.cleaned_data, by=self.by)


class Lend(DeedForm):
    """Who lends it to whom, for how long, and what was agreed."""

    caution = format_lazy(
        "{} {}",
        _(
            "This records an agreement; it moves no animal and is no permit. Whether one may "
            "travel is for the veterinary surgeon to say."
        ),
        LOCAL_CODES,
    )
    direction = forms.ChoiceField(
        choices=Loan.Direction,
        label=_("Which way"),
        initial=Loan.Direction.IN,
        widget=forms.RadioSelect,
    )
    institution = RowField(
        Institution.objects.all(),
        label=_("The other institution"),
        help_text=_("The owner of what is lent to this collection, the holder of what it lends."),
    )
    began_on = today(_("From"))
    expected_end_on = day_field(
        _("Until"), _("Leave it blank where no end was agreed."), required=False
    )
    terms = note(
        _("Terms"),
        _("What was agreed: whose the young are, who pays, what it may be used for."),
        required=True,
    )

    def act(self) -> Loan:
        """Record it."""
        return actions.lend(self.subject, **self.cleaned_data, by=self.by)


class EndLoan(DeedForm):
    """How it ended, and when."""

    outcome = forms.ChoiceField(
        choices=Loan.Outcome,
        label=_("How it ended"),
        initial=Loan.Outcome.RETURNED,
        widget=forms.RadioSelect,
        help_text=_("A death or a departure is recorded on the animal’s own page first."),
    )
    ended_on = today(_("On"))
    end_note = note()

    def act(self) -> Loan:
        """End it."""
        return actions.end_loan(self.subject, **self.cleaned_data, by=self.by)


_LENT = (Lend, _("Record a loan"), _("Who lends it to whom?"))
_OWNED = (ChangeOwner, _("Change the owner"), _("Whose is it from now on?"))
OF_ANIMALS = (Deed(Verb.ANIMAL_LEND, *_LENT), Deed(Verb.ANIMAL_CHANGE_OWNER, *_OWNED))
OF_GROUPS = (Deed(Verb.GROUP_LEND, *_LENT), Deed(Verb.GROUP_CHANGE_OWNER, *_OWNED))
LOAN_DEEDS = deeds(Deed(Verb.LOAN_END, EndLoan, _("End the loan"), _("How did the loan end?")))
