"""The forms that narrow lists."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, Taxon, Word
from registry.choices import RowField
from registry.web import NarrowForm


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
