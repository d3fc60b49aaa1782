"""What is typed on the pages of the morning: a session entered beside the tank, and choices."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.desk.actions import load_vocabulary
from registry.desk.models import MailChoice, Vocabulary
from registry.desk.vocabulary import KINDS, read_lists
from registry.oversight.forms.sessions import beginning_of
from registry.oversight.forms.words import described, moment_field, text_field
from registry.oversight.models import Enrolment, Session
from registry.permissions import Verb
from registry.projects.models import Procedure
from registry.web import Deed, DeedForm, NarrowForm, reason_field


class HeldHere(NarrowForm):
    """A session as held, in few fields; the form of the deed reads what it sends.

    Its choices are given, not looked for, so that a page of many sessions asks no more queries.
    """

    started_at = moment_field("Began")
    ended_at = moment_field("Ended")
    procedure = forms.ChoiceField(label=_("What was done"))
    enrolments = forms.MultipleChoiceField(
        label=_("Animals in view"), required=False, widget=forms.CheckboxSelectMultiple
    )
    notes = text_field(_("Notes"), _("What was out of the way."), required=False, rows=2)

    def __init__(
        self, session: Session, procedures: Sequence[Procedure], enrolments: Sequence[Enrolment]
    ) -> None:
        super().__init__(label_suffix="", auto_id=f"held-{session.pk}-%s")
        fields: dict[str, Any] = self.fields
        fields["started_at"].initial = beginning_of(session)
        fields["procedure"].choices = [(one.pk, str(one)) for one in procedures]
        fields["enrolments"].choices = [(one.pk, described(one)) for one in enrolments]
        fields["enrolments"].initial = [one.pk for one in enrolments]
        if not enrolments:
            del fields["enrolments"]


class MissedHere(NarrowForm):
    """Why a session was not held."""

    reason = reason_field(_("Why it was not held"))

    def __init__(self, session: Session) -> None:
        super().__init__(label_suffix="", auto_id=f"missed-{session.pk}-%s")
        self.fields["reason"].widget.attrs["rows"] = 2


class HowOften(NarrowForm):
    """How often scans are made, for the rows of a blank sheet."""

    every = forms.FloatField(
        label=_("Minutes from one scan or interval to the next"),
        required=False,
        min_value=0.05,
        max_value=1440,
        help_text=_("Empty for one row for each animal."),
        widget=forms.NumberInput(attrs={"step": "any"}),
    )


class LoadVocabulary(DeedForm):
    """Which of the lists that came with the program are loaded."""

    intro = _(
        "The lists that came with the program are written into the register. What is there already "
        "is brought up to date; nothing is taken away, and what you added yourself stays."
    )

    lists = forms.MultipleChoiceField(
        choices=[(kind.name, kind.title) for kind in KINDS],
        label=_("Lists"),
        initial=[kind.name for kind in KINDS],
        widget=forms.CheckboxSelectMultiple,
    )

    def act(self) -> Vocabulary:
        """Load them, and show the first."""
        wanted = set(self.cleaned_data["lists"])
        lists = [one for one in read_lists() if one.kind.name in wanted]
        return load_vocabulary(lists, by=self.by)[0]


LOAD = Deed(
    Verb.VOCABULARY_LOAD, LoadVocabulary, _("Load the lists"), _("Load the reference data?")
)


class ChooseMail(NarrowForm):
    """When to be written to in the morning."""

    how = forms.ChoiceField(
        label=_("The morning’s mail"), choices=MailChoice.How.choices, widget=forms.RadioSelect
    )
