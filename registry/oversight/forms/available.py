"""Which animals one would work with, for what, and when."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, Taxon
from registry.choices import RowField
from registry.web import NarrowForm, day_field

LONGEST = timedelta(days=3 * 366)
USUAL = timedelta(days=28)


class AvailableForm(NarrowForm):
    """The kind, the place, the days and the work that is meant."""

    from_on = day_field(_("From"), required=False)
    to_on = day_field(_("To"), required=False)
    work = forms.ChoiceField(
        choices=[("hands_on", _("treatment or handling")), ("watching", _("observation only"))],
        label=_("For"),
        required=False,
    )
    taxon = RowField(
        Taxon.objects.all(), label=_("Taxon"), required=False, empty_label=_("every taxon")
    )
    enclosure = RowField(
        Enclosure.objects.all(), label=_("Lives in"), required=False, empty_label=_("anywhere")
    )
    free = forms.BooleanField(label=_("Only those that are free"), required=False)

    def clean(self) -> dict[str, Any]:
        """Fill the days that were not given; refuse those that run backwards or too long."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        first: date = given.get("from_on") or timezone.localdate()
        last: date = given.get("to_on") or first + USUAL
        if last < first:
            raise ValidationError({"to_on": gettext("The last day lies before the first.")})
        if last - first > LONGEST:
            raise ValidationError({"to_on": gettext("Ask for three years at most.")})
        return {**given, "from_on": first, "to_on": last}

    @property
    def is_contact(self) -> bool:
        """Whether hands-on work is meant; it is, where nothing is said."""
        return self.cleaned_data.get("work") != "watching"
