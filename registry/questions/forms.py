"""The input of each deed on a question, for its page and for the API."""

from typing import Any

from django import forms
from django.utils.dates import MONTHS
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Taxon
from registry.choices import RowField
from registry.permissions import Verb
from registry.questions import actions
from registry.questions.models import Level, Question
from registry.web import Deed, DeedForm, Words, day_field, deeds, reason_field

_MONTHS = [("", _("any month")), *MONTHS.items()]


def _text(label: Words, help_text: Words = "", rows: int = 5) -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


class PostQuestion(DeedForm):
    """What, why it matters, which animals, what would change."""

    title = forms.CharField(
        label=_("Your question"), max_length=300, help_text=_("One sentence, as you would say it.")
    )
    why = _text(_("Why it matters"))
    animals = forms.CharField(label=_("Which animals"), max_length=200)
    taxon = RowField(
        Taxon.objects.all(),
        label=_("Kind of animal"),
        required=False,
        empty_label=_("several, or not sure"),
    )
    would_change = _text(_("What would change"), _("What you would do differently if you knew."), 3)
    wanted_by = day_field(_("Wanted by"), _("Leave it empty if there is no hurry."), required=False)

    def act(self) -> Question:
        """Post it."""
        return actions.post_question(**self.cleaned_data, by=self.by)


class TakeOn(DeedForm):
    """Why it is taken on, and for whom it would suit."""

    reason = reason_field(_("Why it is taken on"), _("The asker reads this."))
    level = forms.ChoiceField(
        choices=[("", _("any level")), *Level.choices], label=_("Level of student"), required=False
    )
    first_month = forms.TypedChoiceField(
        choices=_MONTHS, coerce=int, empty_value=None, label=_("From"), required=False
    )
    last_month = forms.TypedChoiceField(
        choices=_MONTHS, coerce=int, empty_value=None, label=_("To"), required=False
    )

    def act(self) -> Question:
        """Take it on."""
        return actions.take_on_question(self.subject, **self.cleaned_data, by=self.by)


class Merge(DeedForm):
    """Into which question, and why."""

    into = RowField(Question.objects.none(), label=_("Merge it into"))
    reason = reason_field(_("Why they are one"), _("The asker reads this."))

    def fit(self) -> None:
        """Offer the questions that are still followed."""
        field: Any = self.fields["into"]
        field.queryset = Question.objects.exclude(pk=self.subject.pk).exclude(
            state__in=["merged", "parked", "declined"]
        )

    def act(self) -> Question:
        """Merge it."""
        return actions.merge_question(self.subject, **self.cleaned_data, by=self.by)


class Park(DeedForm):
    """Why it has to wait."""

    reason = reason_field(_("Why it has to wait"), _("The asker reads this."))

    def act(self) -> Question:
        """Park it."""
        return actions.park_question(self.subject, **self.cleaned_data, by=self.by)


class Decline(DeedForm):
    """Why it is declined."""

    reason = reason_field(_("Why it is declined"), _("The asker reads this."))

    def act(self) -> Question:
        """Decline it."""
        return actions.decline_question(self.subject, **self.cleaned_data, by=self.by)


class Reopen(DeedForm):
    """Why it is taken up again."""

    reason = reason_field(_("Why it is taken up again"), _("The asker reads this."))

    def act(self) -> Question:
        """Reopen it."""
        return actions.reopen_question(self.subject, **self.cleaned_data, by=self.by)


class Like(DeedForm):
    """A word to the supervisors, if wanted."""

    note = forms.CharField(
        label=_("A word to the supervisors"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("When you could start, and what draws you to it."),
    )

    def act(self) -> Question:
        """Note the interest."""
        return actions.like_question(self.subject, **self.cleaned_data, by=self.by)


class Unlike(DeedForm):
    """Nothing to fill in."""

    def act(self) -> Question:
        """Take it back."""
        return actions.unlike_question(self.subject, by=self.by)


POST = Deed(
    Verb.QUESTION_POST,
    PostQuestion,
    _("Post the question"),
    _("What would you like to know?"),
    _(
        "Anyone in the collection may ask. The curator reads every question and tells you what "
        "becomes of it."
    ),
)

DEEDS = deeds(
    Deed(Verb.QUESTION_TAKE_ON, TakeOn, _("Take it on"), _("Take this question on")),
    Deed(Verb.QUESTION_MERGE, Merge, _("Merge"), _("Merge it into another question")),
    Deed(Verb.QUESTION_PARK, Park, _("Park"), _("Let it wait")),
    Deed(Verb.QUESTION_DECLINE, Decline, _("Decline"), _("Decline this question")),
    Deed(Verb.QUESTION_REOPEN, Reopen, _("Reopen"), _("Take it up again")),
    Deed(Verb.QUESTION_LIKE, Like, _("I would like this one"), _("I would like this one")),
    Deed(Verb.QUESTION_UNLIKE, Unlike, _("Take my interest back"), _("Take your interest back")),
)
