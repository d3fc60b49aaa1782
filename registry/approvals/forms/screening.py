"""The input of a screening: what a person knows of a procedure that the plan does not say."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.animals.models import LifeStage, Taxon
from registry.approvals import actions
from registry.approvals.models import Screening
from registry.approvals.screens import Said
from registry.projects.forms import choose, text_field
from registry.projects.models import Procedure, Project
from registry.web import DeedForm

PLACES = [("uk", _("United Kingdom")), ("eu", _("European Union")), ("other", _("elsewhere"))]
PURPOSES = [
    ("scientific", _("science: to find something out")),
    ("educational", _("teaching")),
    ("veterinary", _("the care of this animal, as the vet judges it")),
    ("husbandry", _("recognised husbandry, done with or without the study")),
    ("identification", _("to tell the animal apart, done with or without the study")),
]
EFFECTS = [
    ("none", _("nothing: it is only watched")),
    ("below", _("less than a needle put in well")),
    ("may reach", _("perhaps as much as a needle")),
    ("reaches", _("as much as a needle, or more")),
]
STAGES = [("", _("as the rule says")), ("yes", _("protected")), ("no", _("not protected"))]


def _one_of(choices: Any, label: Any) -> forms.ChoiceField:
    """Let one be chosen, and none by default: an answer that nobody gave is not given."""
    return forms.ChoiceField(choices=[("", _("Choose one")), *choices], label=label)


def _tick(label: Any) -> forms.BooleanField:
    return forms.BooleanField(label=label, required=False)


class Screen(DeedForm):
    """What is done to which animals, what they may go through, and what is decided."""

    intro = _(
        "The rules are held against what you write, and stored beside what you decide. Take all "
        "steps together: a series counts as one. It is screened again when the plan changes."
    )
    caution = _(
        "This screens and decides nothing: you do, under your name. Local codes and licensed "
        "practice come first; where you are not sure, refer it before any animal is touched."
    )

    procedure = forms.ModelChoiceField(Procedure.objects.none(), label=_("Procedure"))
    taxon = forms.ModelChoiceField(Taxon.objects.none(), label=_("Taxon"))
    life_stage = _one_of(LifeStage.choices, _("Stage of life"))
    jurisdiction = _one_of(PLACES, _("Where the work is done"))
    purpose = _one_of(PURPOSES, _("Why it is done"))
    effect = _one_of(EFFECTS, _("What the animal may go through"))
    becomes_protected = _tick(_("It reaches the protected stage while the work lasts"))
    lives_past = _tick(_("It is allowed to live past the stage at which it becomes protected"))
    is_felt_later = _tick(_("An effect is likely after that stage"))
    is_protected = forms.ChoiceField(
        choices=STAGES, label=_("The animal at this stage is"), required=False
    )
    answer = _one_of(Screening.Answer.choices, _("You decide"))
    reason = text_field(
        _("Reason"),
        _("Required where you decide otherwise than the rules."),
        3,
        required=False,
    )

    def fit(self) -> None:
        """Offer what the plan names."""
        plan = self.subject.plan
        choose(self, "procedure", plan.procedures.all())
        arms = plan.arms.filter(is_dropped=False)
        choose(self, "taxon", Taxon.objects.filter(pk__in=arms.values("taxon")))

    def act(self) -> Project:
        """Write it down."""
        given = dict(self.cleaned_data)
        own = ("procedure", "taxon", "life_stage", "answer", "reason")
        rest = {name: value for name, value in given.items() if name not in own}
        rest["is_protected"] = {"yes": True, "no": False}.get(rest["is_protected"])
        project: Project = self.subject
        actions.screen_procedure(
            project, **{name: given[name] for name in own}, told=Said(**rest), by=self.by
        )
        return project
