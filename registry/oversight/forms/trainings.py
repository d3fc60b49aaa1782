"""The input of each deed on the trainings that procedures ask for."""

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.oversight.actions import trainings as actions
from registry.oversight.forms.words import LOCAL_CODES, text_field
from registry.oversight.models import TrainingRule
from registry.people.models import Training
from registry.permissions import Verb
from registry.projects.models import Procedure
from registry.web import Deed, DeedForm, day_field, deeds, reason_field


class SetTrainingRule(DeedForm):
    """Which training a procedure asks for, and why."""

    caution = format_lazy(
        "{} {}",
        _(
            "A training on record says that somebody was taught; whether they are competent today "
            "is for whoever supervises them. Where the law asks for a personal licence, this does "
            "not stand for it."
        ),
        LOCAL_CODES,
    )

    procedure = RowField(Procedure.objects.all(), label=_("Before which procedure"))
    training = RowField(Training.objects.all(), label=_("Which training"))
    why = text_field(_("Why"), _("On what it rests: a code, a guideline, your own experience."))
    from_on = day_field(_("From"), is_today=True)

    def act(self) -> TrainingRule:
        """Set it."""
        return actions.set_training_rule(**self.cleaned_data, by=self.by)


class EndTrainingRule(DeedForm):
    """Why it is asked for no longer."""

    reason = reason_field(_("Why it is asked for no longer"))

    def act(self) -> TrainingRule:
        """End it."""
        return actions.end_training_rule(self.subject, **self.cleaned_data, by=self.by)


SET = Deed(
    Verb.TRAINING_RULE_SET,
    SetTrainingRule,
    _("Ask for a training"),
    _("What must they be trained in?"),
    _("Work without it is no less recorded, and opens a breach."),
)
TRAINING_DEEDS = deeds(
    Deed(
        Verb.TRAINING_RULE_END,
        EndTrainingRule,
        _("Ask for it no longer"),
        _("Is it asked for no longer?"),
    )
)
