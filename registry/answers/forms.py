"""The input of each deed on an answer and of closing a project, for its page and for the API."""

import re
from datetime import date
from typing import Any

from django import forms
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext_lazy as _

from archive.models import Analysis, Version
from registry.answers import actions
from registry.answers.models import Answer, HusbandryAction, Output
from registry.answers.standing import missing_to_close
from registry.choices import RowField, RowsField
from registry.people.models import Person
from registry.permissions import Part, Role, Verb, allowed
from registry.projects.models import Project, Study
from registry.questions.models import Question
from registry.web import Deed, DeedForm, Words, day_field, deeds, reason_field

CAUTION = _(
    "What you write may be tried on living animals. A change of husbandry is decided by the "
    "curator and the veterinary surgeon, never by this answer; local codes and licensed practice "
    "come first."
)
RELEASE = _(
    "Only needed where the data are restricted or under embargo. You say by it that the figure "
    "gives away nothing that is held back for a reason; it is recorded who said so, and when."
)
_LINE = re.compile(r"(?P<text>.*?)(?:[\s,;]+by\s+(?P<day>\d{4}-\d{2}-\d{2}))?\s*")
_LONGEST_LINE = HusbandryAction._meta.get_field("text").max_length or 300


def _text(label: Words, help_text: Words = "", rows: int = 5, *, required: bool = True) -> Any:
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        required=required,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def _versions(label: Words, help_text: Words) -> Any:
    return RowsField(
        Version.objects.none(),
        label=label,
        help_text=help_text,
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": _("Choose at least one: an answer rests on data that are held.")
        },
    )


class LinesInput(forms.Textarea):
    """One thing a line; over the API a list does as well."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """Join what was given more than once."""
        if isinstance(data, MultiValueDict):
            return "\n".join(str(one) for one in data.getlist(name))
        return super().value_from_datadict(data, files, name)


class HusbandryField(forms.CharField):
    """What keepers might do differently, one a line, with the day by which where there is one."""

    widget = LinesInput

    def clean(self, value: Any) -> Any:
        """Give a list of (text, day or None)."""
        lines = super().clean(value).splitlines()
        return [self._read(n, line) for n, line in enumerate(lines, 1) if line.strip()]

    @staticmethod
    def _read(number: int, line: str) -> tuple[str, date | None]:
        read = _LINE.fullmatch(line.strip())
        text, day = (read["text"].strip(), read["day"]) if read else (line.strip(), None)
        if not text or len(text) > _LONGEST_LINE:
            raise forms.ValidationError(
                _("Line %(number)s must have words, and no more than %(most)s letters.")
                % {"number": number, "most": _LONGEST_LINE}
            )
        try:
            return text, date.fromisoformat(day) if day else None
        except ValueError:
            raise forms.ValidationError(
                _("Line %(number)s: there is no day %(day)s.") % {"number": number, "day": day}
            ) from None


def _held_versions() -> Any:
    return Version.objects.held().select_related("dataset").order_by("dataset__title", "-pk")


def _analysis() -> Any:
    return forms.ModelChoiceField(
        Analysis.objects.none(),
        label=_("Figure from"),
        required=False,
        empty_label=_("no figure"),
        help_text=_(
            "An analysis of the evidence; its first figure stands on the page, for those who may "
            "read the data."
        ),
    )


def _analyses_of(versions: Any, by: Any) -> Any:
    """Give the analyses of some versions that were computed and that one may see."""
    seen = allowed(Analysis.objects.filter(state="computed"), by, Verb.ANALYSIS_SEE)
    return seen.filter(version__in=versions.order_by().values("pk"))


def _told(given: dict[str, Any]) -> dict[str, Any]:
    """Gather what an answer says beside its summary."""
    names = ("done", "left_open", "analysis", "is_figure_released")
    told = actions.Told(**{name: given.pop(name) for name in names if name in given})
    return {**given, "told": told}


class WriteAnswer(DeedForm):
    """What was done and found, how sure it is, its evidence and figure, what to do differently."""

    caution = CAUTION
    study = forms.ModelChoiceField(
        Study.objects.none(), label=_("From which study"), required=False, empty_label=None
    )
    summary = _text(
        _("Plain summary"),
        _("What was found, in words for those who asked. It prints on one page."),
        6,
    )
    sureness = _text(
        _("How sure this is"), _("How many animals or tanks, and what could be otherwise."), 3
    )
    done = _text(_("What was done"), _("Which animals, where and for how long."), 3, required=False)
    left_open = _text(_("What remains open"), rows=3, required=False)
    evidence = _versions(_("Evidence"), _("The versions of the study’s data on which it rests."))
    analysis = _analysis()
    is_figure_released = forms.BooleanField(
        label=_("Show the figure to everyone who reads the answer"),
        required=False,
        help_text=RELEASE,
    )
    husbandry = HusbandryField(
        label=_("What to do differently"),
        required=False,
        max_length=6000,
        help_text=_("One thing a line. End a line with “by 2027-03-01” where it has a day."),
    )

    def fit(self) -> None:
        """Offer the studies in which one leads, and what they hold."""
        fields: Any = self.fields
        fields["study"].queryset = Study.objects.filter(
            pk__in=self.subject.studies.filter(
                projects__members__in=self.by.memberships.filter(ended_on=None, part=Part.LEAD)
            ).values("pk")
        )
        fields["evidence"].queryset = _held_versions().filter(
            dataset__project__study__in=self.subject.studies.order_by().values("pk")
        )
        fields["analysis"].queryset = _analyses_of(fields["evidence"].queryset, self.by)

    def clean_study(self) -> Study:
        """Take the only study where none was named."""
        chosen: Study | None = self.cleaned_data["study"]
        field: Any = self.fields["study"]
        offered = list(field.queryset[:2])
        if chosen is None and len(offered) != 1:
            raise forms.ValidationError(_("Choose the study that answers it."))
        return chosen or offered[0]

    def act(self) -> Question:
        """Write it."""
        return actions.answer_question(self.subject, **_told(self.cleaned_data), by=self.by)


class RenewAnswer(WriteAnswer):
    """The same, where a later cohort found more."""

    intro = _("The earlier answer stays where it is, with its day; this one stands before it.")

    def act(self) -> Question:
        """Write it before the others."""
        return actions.renew_answer(self.subject, **_told(self.cleaned_data), by=self.by)


class AnswerFromHeld(DeedForm):
    """Why no new study is needed, the summary, how sure it is, the versions on which it rests."""

    caution = CAUTION
    reason = reason_field(_("Why no new study is needed"), _("The asker reads this."))
    summary = _text(
        _("Plain summary"), _("What the data held say, in words for those who asked."), 6
    )
    sureness = _text(
        _("How sure this is"), _("How many animals or tanks, and what could be otherwise."), 3
    )
    done = _text(_("What was done"), _("When the data were collected, and how."), 3, required=False)
    left_open = _text(_("What remains open"), rows=3, required=False)
    evidence = _versions(_("Evidence"), _("The versions on which it rests; at least one."))
    analysis = _analysis()

    def fit(self) -> None:
        """Offer every version that is held."""
        fields: Any = self.fields
        fields["evidence"].queryset = _held_versions()
        fields["analysis"].queryset = _analyses_of(fields["evidence"].queryset, self.by)

    def act(self) -> Question:
        """Write it."""
        return actions.answer_from_held(self.subject, **_told(self.cleaned_data), by=self.by)


class Acknowledge(DeedForm):
    """Nothing to fill in."""

    intro = _(
        "By this you say that the answer was understood. Only now is the question closed. If it "
        "does not answer the question, go back and query it instead."
    )

    def act(self) -> Question:
        """Acknowledge it."""
        return actions.acknowledge_answer(self.subject, by=self.by)


class Query(DeedForm):
    """What the answer leaves open."""

    intro = _("The question is taken on again, and whoever answered it writes another answer.")
    reason = reason_field(_("What it leaves open"), _("Whoever answered reads this."))

    def act(self) -> Question:
        """Query it."""
        return actions.query_answer(self.subject, **self.cleaned_data, by=self.by)


class SayDone(DeedForm):
    """Which of the actions, whether it was done, and what came of it."""

    caution = _(
        "A change of husbandry is decided by the curator and the veterinary surgeon; local codes "
        "and licensed practice come first."
    )
    action = forms.ModelChoiceField(
        HusbandryAction.objects.none(), label=_("What was suggested"), empty_label=None
    )
    is_done = forms.TypedChoiceField(
        choices=[("yes", _("it was done")), ("no", _("it was not, and will not be"))],
        coerce=lambda said: said == "yes",
        label=_("What became of it"),
        widget=forms.RadioSelect,
    )
    outcome = _text(_("What came of it, or why it was not done"), rows=3, required=False)

    def fit(self) -> None:
        """Offer what nobody has said to be done."""
        field: Any = self.fields["action"]
        field.queryset = self.subject.actions.exclude(is_done=True)

    def act(self) -> Answer:
        """Say it, and go back to the answer."""
        given = dict(self.cleaned_data)
        action: HusbandryAction = given.pop("action")
        actions.say_done(action, **given, by=self.by)
        answer: Answer = self.subject
        return answer


class GiveAction(DeedForm):
    """Which of the actions, who sees to it, and by when."""

    action = forms.ModelChoiceField(
        HusbandryAction.objects.none(), label=_("What was suggested"), empty_label=None
    )
    owner = RowField(Person.objects.none(), label=_("Who sees to it"))
    due_on = day_field(_("By when"), required=False)

    def fit(self) -> None:
        """Offer what is open, and those who work with animals."""
        fields: Any = self.fields
        fields["action"].queryset = self.subject.actions.filter(is_done=None)
        fields["owner"].queryset = Person.objects.with_standing(Role.KEEPER, Role.CURATOR, Role.VET)

    def act(self) -> Answer:
        """Name them, and go back to the answer."""
        given = dict(self.cleaned_data)
        action: HusbandryAction = given.pop("action")
        actions.give_action(action, **given, by=self.by)
        answer: Answer = self.subject
        return answer


class ReleaseFigure(DeedForm):
    """Nothing to fill in."""

    intro = RELEASE

    def act(self) -> Answer:
        """Show it to everyone."""
        return actions.release_figure(self.subject, by=self.by)


class WithholdFigure(DeedForm):
    """Why it is taken back."""

    reason = reason_field(_("Why it is taken back"))

    def act(self) -> Answer:
        """Show it to those alone who may read the data."""
        return actions.withhold_figure(self.subject, **self.cleaned_data, by=self.by)


class AddOutput(DeedForm):
    """What came out, of whom, when, where, and under which identifier."""

    sort = forms.ChoiceField(choices=Output.Sort.choices, label=_("What it is"))
    title = forms.CharField(label=_("Title"), max_length=300)
    authors = forms.CharField(
        label=_("Authors"), max_length=500, help_text=_("As they stand on it.")
    )
    published_on = day_field(_("When it came out or was given"))
    where = forms.CharField(
        label=_("Where"),
        max_length=300,
        required=False,
        help_text=_("Journal, university, meeting."),
    )
    identifier = forms.CharField(
        label=_("Identifier"),
        max_length=200,
        required=False,
        help_text=_("A DOI, an ISBN or an address; check digits are checked."),
    )
    versions = RowsField(
        Version.objects.none(),
        label=_("Data that it rests on"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def fit(self) -> None:
        """Offer what the study holds."""
        field: Any = self.fields["versions"]
        field.queryset = _held_versions().filter(dataset__project__study=self.subject.study_id)

    def act(self) -> Output:
        """Add it."""
        return actions.add_output(self.subject, **self.cleaned_data, by=self.by)


class WithdrawOutput(DeedForm):
    """Why it is taken off the list."""

    reason = reason_field(_("Why it is taken off"))

    def act(self) -> Output:
        """Take it off."""
        return actions.withdraw_output(self.subject, **self.cleaned_data, by=self.by)


class CloseProject(DeedForm):
    """How it went, and what deviated from the plan."""

    text = _text(
        _("How it went"),
        _("Animals used, how severe it was for them, what went well and what did not."),
    )
    deviations = _text(_("What deviated from the plan"), _("Leave it empty if nothing did."), 4)
    learned = _text(
        _("What was learned for refinement"),
        _("What you would do otherwise, so that animals bear less and the numbers suffice."),
        4,
    )

    def fit(self) -> None:
        """Say what is missing before anything is typed."""
        self.fields["deviations"].required = False
        self.missing = missing_to_close(self.subject)
        told = self.subject.deviations.order_by("pk").values_list("happened_on", "text")
        self.fields["deviations"].initial = "\n".join(f"{on}: {text}" for on, text in told)

    def act(self) -> Project:
        """Close it."""
        return actions.close_project(self.subject, **self.cleaned_data, by=self.by)


QUESTION_DEEDS = deeds(
    Deed(
        Verb.QUESTION_ANSWER,
        WriteAnswer,
        _("Write the answer"),
        _("What was found?"),
        _("The question stays open until the keeper’s side acknowledges the answer."),
    ),
    Deed(
        Verb.QUESTION_RENEW,
        RenewAnswer,
        _("Update the answer"),
        _("What is known now?"),
        _("A later cohort found more; the keeper’s side acknowledges the newer answer again."),
    ),
    Deed(
        Verb.QUESTION_ANSWER_FROM_HELD,
        AnswerFromHeld,
        _("Answer from data held"),
        _("What do the data already held say?"),
        _(
            "No new study, and no animal used. The question stays open until the keeper’s side "
            "acknowledges the answer."
        ),
    ),
    Deed(
        Verb.QUESTION_ACKNOWLEDGE,
        Acknowledge,
        _("Acknowledge the answer"),
        _("Does this answer the question?"),
    ),
    Deed(Verb.QUESTION_QUERY, Query, _("Query the answer"), _("What does the answer leave open?")),
)
ANSWER_DEEDS = deeds(
    Deed(Verb.ANSWER_DO_ACTION, SayDone, _("Say what was done"), _("What was done differently?")),
    Deed(Verb.ANSWER_GIVE_ACTION, GiveAction, _("Say who sees to it"), _("Who sees to it?")),
    Deed(
        Verb.ANSWER_RELEASE_FIGURE,
        ReleaseFigure,
        _("Show the figure to everyone"),
        _("May everyone see the figure?"),
    ),
    Deed(
        Verb.ANSWER_WITHHOLD_FIGURE,
        WithholdFigure,
        _("Take the figure back"),
        _("Why take the figure back?"),
    ),
)
OUTPUT_DEEDS = deeds(
    Deed(Verb.OUTPUT_WITHDRAW, WithdrawOutput, _("Take it off the list"), _("Why take it off?"))
)
PROJECT_DEEDS = deeds(
    Deed(
        Verb.PROJECT_CLOSE,
        CloseProject,
        _("Close the project"),
        _("How did it end?"),
        _(
            "A project is closed when its data are held, its questions are answered, its "
            "animals have left it, and every breach is explained."
        ),
    ),
    Deed(
        Verb.PROJECT_ADD_OUTPUT,
        AddOutput,
        _("Add an output"),
        _("What came out of it?"),
        _("Dissertations, papers, posters, talks: what others can read or heard."),
    ),
)
