"""The forms that narrow lists."""

from datetime import date

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, Taxon, Word
from registry.choices import RowField
from registry.web import NarrowForm, day_field


class CollectionFilter(NarrowForm):
    """Which animals and groups of the collection to list."""

    taxon = RowField(
        Taxon.objects.all(), label=_("Taxon"), required=False, empty_label=_("every taxon")
    )
    enclosure = RowField(
        Enclosure.objects.all(), label=_("Lives in"), required=False, empty_label=_("anywhere")
    )
    word = forms.ChoiceField(
        choices=[("", _("any, while it lives here")), *Word.choices], label=_("Is"), required=False
    )


class OnADay(NarrowForm):
    """The day that one looks back to."""

    on = day_field(_("Who lived here on"), required=False)

    def clean_on(self) -> date | None:
        """Take today or an earlier day: nobody knows who will live where."""
        on: date | None = self.cleaned_data["on"]
        if on is not None and on > timezone.localdate():
            raise ValidationError(gettext("This day has not come yet."))
        return on
