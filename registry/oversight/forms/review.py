"""What an auditor asks the record for."""

from typing import Any

from django import forms
from django.utils import timezone

from registry.animals.models import Animal, Group, Taxon
from registry.approvals.models import Approval
from registry.oversight.review import BY, Asked
from registry.people.models import Person
from registry.projects.models import Project
from registry.web import NarrowForm


def _one(queryset: Any, label: str) -> forms.ModelChoiceField[Any]:
    return forms.ModelChoiceField(queryset, label=label, required=False, empty_label="any")


def _day(label: str, help_text: str = "") -> forms.DateField:
    return forms.DateField(
        label=label,
        help_text=help_text,
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


class ReviewForm(NarrowForm):
    """Narrow the review; an empty form looks at everything, as known today."""

    animal = _one(Animal.objects.all(), "Animal")
    group = _one(Group.objects.all(), "Group")
    taxon = _one(Taxon.objects.all(), "Taxon")
    project = _one(Project.objects.select_related("study"), "Project")
    approval = _one(Approval.objects.all(), "Approval")
    person = _one(Person.objects.real(), "Person")
    since = _day("From")
    happened_by = _day("Happened by")
    known_by = _day("Known by", "As the record stood at the end of this day.")
    by = forms.ChoiceField(
        label="Sum by", choices=[(key, said) for key, (said, _) in BY.items()], required=False
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
