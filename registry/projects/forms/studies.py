"""The input of each deed that opens a study or a cohort."""

from django import forms
from django.db.models import Case, QuerySet, When
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Taxon
from registry.choices import RowField
from registry.people.models import Person
from registry.permissions import Role
from registry.projects import actions
from registry.projects.forms.fields import choose, several, text_field
from registry.projects.models import Project, Study
from registry.questions.models import Level, Question
from registry.web import DeedForm, day_field, number_of

FOLLOWED = ("posted", "taken_on", "answered")


class OpenStudy(DeedForm):
    """What a study is for, and the questions that it takes on."""

    title = forms.CharField(label=_("Title"), max_length=200)
    aim = text_field(_("Aim"), _("What will be known when it is done."))
    taxon = RowField(
        Taxon.objects.all(), label=_("Taxon"), required=False, empty_label=_("several, or none")
    )
    questions = several(Question.objects.none(), _("Questions that it takes on"))

    def fit(self) -> None:
        """Offer the questions that are followed."""
        followed = Question.objects.filter(state__in=FOLLOWED)
        asked = self.initial.get("questions")
        number = number_of(asked) if isinstance(asked, str) else None
        question = followed.filter(pk=number).first() if number else None
        if question is not None:
            self.initial["questions"] = [question.pk]
            self.initial.setdefault("taxon", question.taxon_id)
            is_asked = Case(When(pk=question.pk, then=0), default=1)
            followed = followed.order_by(is_asked, "-posted_at")
        choose(self, "questions", followed)

    def act(self) -> Study:
        """Open it."""
        return actions.open_study(**self.cleaned_data, by=self.by)


class TakeQuestion(DeedForm):
    """Which question the study takes on."""

    question = RowField(Question.objects.none(), label=_("Question"))

    def fit(self) -> None:
        """Offer the questions that are followed and not in the study."""
        left = Question.objects.filter(state__in=FOLLOWED).exclude(studies=self.subject)
        choose(self, "question", left)

    def act(self) -> Study:
        """Take it."""
        return actions.take_question(self.subject, **self.cleaned_data, by=self.by)


def _supervisors() -> QuerySet[Person]:
    found: QuerySet[Person] = Person.objects.real().with_standing(Role.SUPERVISOR)
    return found.filter(is_active=True)


class _Cohort(DeedForm):
    """A cohort's label, its time and its lead supervisor."""

    cohort = forms.CharField(
        label=_("Cohort"), max_length=40, help_text=_("Its label, such as an academic year.")
    )
    starts_on = day_field(_("First day"))
    ends_on = day_field(_("Last day"))
    lead = RowField(Person.objects.none(), label=_("Lead supervisor"))

    def fit(self) -> None:
        """Offer the supervisors; oneself first where one is one."""
        choose(self, "lead", _supervisors())
        self.initial.setdefault("lead", self.by.pk)


class OpenProject(_Cohort):
    """A cohort's piece of work: its label, level, time, lead and cost in keeper time."""

    level = forms.ChoiceField(choices=Level.choices, label=_("Level of the student"))
    keeper_hours_week = forms.FloatField(
        label=_("Keeper time, hours a week"),
        min_value=0,
        max_value=168,
        initial=0,
        required=False,
        help_text=_("What it costs the keepers; 0 where it costs none."),
    )

    def act(self) -> Project:
        """Open it."""
        hours = self.cleaned_data.pop("keeper_hours_week") or 0
        return actions.open_project(
            self.subject, **self.cleaned_data, keeper_hours_week=hours, by=self.by
        )


class Extend(_Cohort):
    """The next cohort's label, time and lead."""

    intro = _(
        "The plan, its treatments, procedures and places are copied into a new draft. Permissions "
        "and people are asked for anew. The study's dictionary goes on."
    )

    def act(self) -> Project:
        """Open the next cohort."""
        return actions.extend_project(self.subject, **self.cleaned_data, by=self.by)
