"""What an auditor asks the record for."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, Group, Taxon
from registry.approvals.models import Approval
from registry.choices import RowField
from registry.oversight.review import BY, Asked
from registry.people.models import Person
from registry.projects.models import Project
from registry.web import NarrowForm, Words, day_field

YEAR = timedelta(days=365)


def _one(queryset: Any, label: Words) -> RowField:
    return RowField(queryset, label=label, required=False, empty_label=_("any"))


class ReviewForm(NarrowForm):
    """Narrow the review; an empty form looks at everything, as known today."""

    animal = _one(Animal.objects.all(), _("Animal"))
    group = _one(Group.objects.all(), _("Group"))
    taxon = _one(Taxon.objects.all(), _("Taxon"))
    project = _one(Project.objects.select_related("study"), _("Project"))
    approval = _one(Approval.objects.all(), _("Approval"))
    person = _one(Person.objects.real(), _("Person"))
    since = day_field(_("From"), required=False)
    happened_by = day_field(_("Happened by"), required=False)
    known_by = day_field(
        _("Known by"), _("As the record stood at the end of this day."), required=False
    )
    by = forms.ChoiceField(
        label=_("Sum by"),
        choices=[
            ("", _("nothing: draw the map")),
            *((key, said) for key, (said, _by) in BY.items()),
        ],
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)

    def asked(self) -> Asked:
        """Give what was asked, with today where no day was given; call it on a valid form."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "by"}
        today = timezone.localdate()
        given["happened_by"] = given["happened_by"] or today
        given["known_by"] = given["known_by"] or today
        return Asked(**given)


def with_a_year(asked: QueryDict) -> QueryDict:
    """Begin a year before the day of the review, where nothing is said of when to begin."""
    given = asked.copy()
    if "since" not in given:
        try:
            since = date.fromisoformat(given.get("happened_by", "")) - YEAR
        except (ValueError, OverflowError):
            since = timezone.localdate() - YEAR
        given["since"] = since.isoformat()
    return given
