"""The input of each deed on the house's rules of rest."""

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Taxon
from registry.choices import RowField
from registry.oversight.actions import rests as actions
from registry.oversight.forms.words import LOCAL_CODES, text_field
from registry.oversight.models import RestRule
from registry.permissions import Verb
from registry.web import Deed, DeedForm, day_field, deeds, reason_field


class SetRestRule(DeedForm):
    """How much hands-on work an animal may have in how many days, and why."""

    caution = format_lazy(
        "{} {}",
        _(
            "No statute gives days of rest for such work: ask the veterinary surgeon what this "
            "kind of animal needs."
        ),
        LOCAL_CODES,
    )

    taxon = RowField(
        Taxon.objects.all(), label=_("Taxon"), required=False, empty_label=_("every taxon")
    )
    most = forms.IntegerField(label=_("Hands-on events at most"), min_value=1, initial=1)
    days = forms.IntegerField(
        label=_("In how many days"),
        min_value=1,
        max_value=actions.LONGEST_D,
        help_text=_("1 event in 3 days leaves two days of rest between."),
    )
    why = text_field(_("Why"), _("On what it rests: a paper, a guideline, your own experience."))
    from_on = day_field(_("From"), is_today=True)

    def act(self) -> RestRule:
        """Set it."""
        return actions.set_rest_rule(**self.cleaned_data, by=self.by)


class EndRestRule(DeedForm):
    """Why it holds no longer."""

    reason = reason_field(_("Why it holds no longer"))

    def act(self) -> RestRule:
        """End it."""
        return actions.end_rest_rule(self.subject, **self.cleaned_data, by=self.by)


SET = Deed(
    Verb.REST_RULE_SET,
    SetRestRule,
    _("Set the rule"),
    _("How much rest must there be?"),
    _("Work that passes it is no less recorded, and opens a breach."),
)
REST_DEEDS = deeds(
    Deed(Verb.REST_RULE_END, EndRestRule, _("End the rule"), _("Does it hold no longer?"))
)
