"""The input of each deed on a concern."""

from django import forms
from django.db import models
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal
from registry.choices import RowField
from registry.oversight.actions import concerns as actions
from registry.oversight.forms.words import LOCAL_CODES
from registry.oversight.models import Concern, Course
from registry.people.models import Person
from registry.permissions import Verb
from registry.projects.models import Project
from registry.web import Deed, DeedForm, Words, deeds, reason_field


class RaiseConcern(DeedForm):
    """What worries you; by name or not."""

    keeps_no_draft = True  # a browser that others use should not tell them of it

    caution = _(
        "If an animal or a person is in danger now, tell a keeper or the veterinary surgeon at "
        "once; this page is read in working hours. You may also go to the regulator directly."
    )
    code = ""

    text = forms.CharField(
        label=_("What worries you"), max_length=8000, widget=forms.Textarea(attrs={"rows": 6})
    )
    animal = RowField(
        Animal.objects.filter(left_on=None),
        label=_("About which animal"),
        required=False,
        empty_label=_("none in particular"),
    )
    project = RowField(
        Project.objects.select_related("study"),
        label=_("About which project"),
        required=False,
        empty_label=_("none in particular"),
    )
    named = RowField(
        Person.objects.real(),
        label=_("About a person"),
        required=False,
        empty_label=_("nobody"),
        help_text=_("That person will not see it, whatever office they hold."),
    )
    is_anonymous = forms.BooleanField(
        label=_("Do not record my name"),
        required=False,
        help_text=_("You get a code with which you can follow what becomes of it."),
    )

    def fit(self) -> None:
        """Offer names of animals and people only to those who signed in."""
        if not self.by.is_authenticated:
            for name in ("animal", "project", "named", "is_anonymous"):
                del self.fields[name]

    def act(self) -> models.Model:
        """Raise it, and keep the code for the one page that shows it."""
        concern, self.code = actions.raise_concern(**self.cleaned_data, by=self.by)
        return concern


class TakeUp(DeedForm):
    """Nothing to fill in."""

    def act(self) -> Concern:
        """Take it up."""
        return actions.take_up_concern(self.subject, by=self.by)


def _said(label: Words, help_text: Words = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": 5}),
    )


class Ask(DeedForm):
    """A question to whoever raised it."""

    keeps_no_draft = True
    text = _said(_("Your question"), _("Ask nothing that would tell who they are."))

    def act(self) -> Concern:
        """Put it."""
        return actions.ask_raiser(self.subject, **self.cleaned_data, by=self.by)


class Reply(DeedForm):
    """An answer, or what is to be added."""

    keeps_no_draft = True
    text = _said(_("Your answer, or what you would add"))

    def act(self) -> Concern:
        """Pass it on."""
        return actions.reply_concern(self.subject, **self.cleaned_data, by=self.by)


class Check(DeedForm):
    """What was seen, and what was decided."""

    keeps_no_draft = True
    caution = LOCAL_CODES
    intro = _(
        "To stop a project, halt its data collection; to withdraw an animal, withdraw its "
        "enrolment. Only a veterinary surgeon and a body together restart what was stopped."
    )
    text = _said(_("What was seen"))
    course = forms.ChoiceField(choices=Course.choices, label=_("Decision"))

    def act(self) -> Concern:
        """Record it."""
        return actions.check_welfare(self.subject, **self.cleaned_data, by=self.by)


class Resolve(DeedForm):
    """What was found and done."""

    reason = reason_field(_("What was found and done"), _("Whoever raised it can read this."))

    def act(self) -> Concern:
        """Resolve it."""
        return actions.resolve_concern(self.subject, **self.cleaned_data, by=self.by)


class Reopen(DeedForm):
    """Why it is taken up again."""

    reason = reason_field(_("Why it is taken up again"))

    def act(self) -> Concern:
        """Reopen it."""
        return actions.reopen_concern(self.subject, **self.cleaned_data, by=self.by)


class Follow(DeedForm):
    """The code that was given when a concern was raised, and an answer, where there is one."""

    keeps_no_draft = True
    code = forms.CharField(label=_("Your code"), max_length=40)
    text = forms.CharField(
        label=_("Your answer, or what you would add"),
        max_length=8000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 5}),
    )

    def act(self) -> Concern:
        """Pass the answer on."""
        return actions.follow_concern(**self.cleaned_data, by=self.by)


FOLLOW = Deed(Verb.CONCERN_FOLLOW, Follow, _("Pass it on"), _("What became of your concern?"))
RAISE = Deed(
    Verb.CONCERN_RAISE,
    RaiseConcern,
    _("Raise the concern"),
    _("What worries you?"),
    _(
        "A veterinary surgeon and the chairs of the ethics bodies read it, and the auditor sees "
        "that it was raised; nobody whom it names does."
    ),
)

DEEDS = deeds(
    Deed(Verb.CONCERN_TAKE_UP, TakeUp, _("Take it up"), _("Take this concern up")),
    Deed(Verb.CONCERN_ASK, Ask, _("Ask whoever raised it"), _("What must you know?")),
    Deed(Verb.CONCERN_REPLY, Reply, _("Answer, or add to it"), _("What would you add?")),
    Deed(Verb.CONCERN_CHECK, Check, _("Record a welfare check"), _("How is the animal?")),
    Deed(Verb.CONCERN_RESOLVE, Resolve, _("Resolve"), _("Resolve this concern")),
    Deed(Verb.CONCERN_REOPEN, Reopen, _("Reopen"), _("Take this concern up again")),
)
