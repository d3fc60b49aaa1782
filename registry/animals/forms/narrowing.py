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
    """The day that one looks back to, and by what was known when."""

    on = day_field(_("On"), required=False)
    known = day_field(
        _("As known on"), _("Leaves out what was recorded after this day."), required=False
    )

    def _past(self, name: str) -> date | None:
        day: date | None = self.cleaned_data[name]
        if day is not None and day > timezone.localdate():
            raise ValidationError(gettext("This day has not come yet."))
        return day

    def clean_on(self) -> date | None:
        """Take today or an earlier day: nobody knows what will be."""
        return self._past("on")

    def clean_known(self) -> date | None:
        """Take today or an earlier day; today is all that is known."""
        day = self._past("known")
        return None if day == timezone.localdate() else day

    @property
    def day(self) -> date:
        """The day, of a valid form; today where none is given."""
        on: date | None = self.cleaned_data["on"]
        return on or timezone.localdate()

    @property
    def asked(self) -> tuple[date, date | None] | None:
        """The day, and by what day's knowledge; None where no day is asked for, or it is wrong."""
        if not self.is_valid():
            return None
        on, known = self.cleaned_data["on"], self.cleaned_data["known"]
        return (self.day, known) if on or known else None
