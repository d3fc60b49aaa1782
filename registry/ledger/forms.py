"""What the ledger is filtered by."""

from typing import Any

from django import forms
from django.contrib.auth import get_user_model
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.ledger.models import Entry
from registry.moments import after, begin
from registry.permissions import Verb, allowed, is_look
from registry.web import NarrowForm, day_field


class LedgerFilter(NarrowForm):
    """By subject, person, project, deed and period."""

    subject = forms.CharField(
        label=_("Subject"),
        required=False,
        max_length=80,
        help_text=_("As the ledger names it: questions.question:12"),
    )
    person = RowField(
        get_user_model()._default_manager.none(),
        label=_("Person"),
        required=False,
        empty_label=_("anyone"),
    )
    project = forms.IntegerField(required=False, min_value=1, label=_("Project number"))
    verb = forms.ChoiceField(
        required=False,
        label=_("Deed"),
        choices=[
            ("", _("any")),
            *[(verb.value, verb.label) for verb in Verb if not is_look(verb)],
        ],
    )
    begun = day_field(_("From"), required=False)
    ended = day_field(_("To"), required=False)

    def __init__(self, *args: Any, by: Any, **kwargs: Any) -> None:
        kwargs["label_suffix"] = ""
        super().__init__(*args, **kwargs)
        people: Any = self.fields["person"]
        people.queryset = allowed(get_user_model()._default_manager.all(), by, Verb.PERSON_SEE)

    def clean(self) -> dict[str, Any]:
        """See that the period runs forward."""
        given: dict[str, Any] = super().clean() or {}
        if given.get("begun") and given.get("ended") and given["begun"] > given["ended"]:
            self.add_error("ended", _("This day is before the first one."))
        return given

    def narrowed(self, entries: QuerySet[Entry]) -> QuerySet[Entry]:
        """Give the entries that were asked for; none where what was asked does not hold."""
        if not self.is_valid():
            return entries.none()
        given = self.cleaned_data
        wanted = Q()
        if given["subject"]:
            wanted &= Q(subject=given["subject"].strip())
        if given["person"]:
            wanted &= Q(actor=given["person"])
        if given["project"]:
            wanted &= Q(project_number=given["project"])
        if given["verb"]:
            wanted &= Q(verb=given["verb"])
        if given["begun"]:
            wanted &= Q(at__gte=begin(given["begun"]))
        if given["ended"]:
            wanted &= Q(at__lt=after(given["ended"]))
        return entries.filter(wanted)
