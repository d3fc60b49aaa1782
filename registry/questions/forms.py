"""The input of each deed on a question, for its page and for the API."""

from typing import Any

from django import forms
from django.utils.dates import MONTHS

from registry.animals.models import Taxon
from registry.permissions import Verb
from registry.questions import actions
from registry.questions.models import Level, Question
from registry.web import Deed, DeedForm, deeds, reason_field

_MONTHS = [("", "any month"), *MONTHS.items()]


def _text(label: str, help_text: str = "", rows: int = 5) -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


class PostQuestion(DeedForm):
    """What, why it matters, which animals, what would change."""

    title = forms.CharField(
        label="Your question", max_length=300, help_text="One sentence, as you would say it."
    )
    why = _text("Why it matters")
    animals = forms.CharField(label="Which animals", max_length=200)
    taxon = forms.ModelChoiceField(
        Taxon.objects.all(), label="Taxon", required=False, empty_label="several, or not sure"
    )
    would_change = _text("What would change", "What you would do differently if you knew.", 3)
    wanted_by = forms.DateField(
        label="Wanted by",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Leave it empty if there is no hurry.",
    )

    def act(self) -> Question:
        """Post it."""
        return actions.post_question(**self.cleaned_data, by=self.by)


class TakeOn(DeedForm):
    """Why it is taken on, and for whom it would suit."""

    reason = reason_field("Why it is taken on", "The asker reads this.")
    level = forms.ChoiceField(
        choices=[("", "any level"), *Level.choices], label="Level of student", required=False
    )
    first_month = forms.TypedChoiceField(
        choices=_MONTHS, coerce=int, empty_value=None, label="From", required=False
    )
    last_month = forms.TypedChoiceField(
        choices=_MONTHS, coerce=int, empty_value=None, label="To", required=False
    )

    def act(self) -> Question:
        """Take it on."""
        return actions.take_on_question(self.subject, **self.cleaned_data, by=self.by)


class Merge(DeedForm):
    """Into which question, and why."""

    into = forms.ModelChoiceField(Question.objects.none(), label="Merge it into")
    reason = reason_field("Why they are one", "The asker reads this.")

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

    reason = reason_field("Why it has to wait", "The asker reads this.")

    def act(self) -> Question:
        """Park it."""
        return actions.park_question(self.subject, **self.cleaned_data, by=self.by)


class Decline(DeedForm):
    """Why it is declined."""

    reason = reason_field("Why it is declined", "The asker reads this.")

    def act(self) -> Question:
        """Decline it."""
        return actions.decline_question(self.subject, **self.cleaned_data, by=self.by)


class Reopen(DeedForm):
    """Why it is taken up again."""

    reason = reason_field("Why it is taken up again", "The asker reads this.")

    def act(self) -> Question:
        """Reopen it."""
        return actions.reopen_question(self.subject, **self.cleaned_data, by=self.by)


class Like(DeedForm):
    """A word to the supervisors, if wanted."""

    note = forms.CharField(
        label="A word to the supervisors",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="When you could start, and what draws you to it.",
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
    "Post the question",
    "What would you like to know?",
    "Anyone in the collection may ask. The curator reads every question and tells you what "
    "becomes of it.",
)

DEEDS = deeds(
    Deed(Verb.QUESTION_TAKE_ON, TakeOn, "Take it on", "Take this question on"),
    Deed(Verb.QUESTION_MERGE, Merge, "Merge", "Merge it into another question"),
    Deed(Verb.QUESTION_PARK, Park, "Park", "Let it wait"),
    Deed(Verb.QUESTION_DECLINE, Decline, "Decline", "Decline this question"),
    Deed(Verb.QUESTION_REOPEN, Reopen, "Reopen", "Take it up again"),
    Deed(Verb.QUESTION_LIKE, Like, "I would like this one", "I would like this one"),
    Deed(Verb.QUESTION_UNLIKE, Unlike, "Take my interest back", "Take your interest back"),
)
