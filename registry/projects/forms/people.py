"""The input of each deed on who takes part in a project."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.people.models import Person, Standing
from registry.permissions import Part, Role
from registry.projects import actions
from registry.projects.forms.fields import choose
from registry.projects.models import Agreement, Project
from registry.web import DeedForm, day_field, reason_field

_ASSIGNED_FIRST = (Role.STUDENT, Role.SUPERVISOR)


def _place(role: str) -> tuple[int, str]:
    """Give where a role stands in a list of those who may be assigned."""
    known = [one.value for one in _ASSIGNED_FIRST]
    return (known.index(role) if role in known else len(known), role)


class Assign(DeedForm):
    """Who, and in which part."""

    person = RowField(Person.objects.none(), label=_("Person"))
    part = forms.ChoiceField(
        choices=Part.choices,
        label=_("Part"),
        initial=Part.STUDENT,
        help_text=_("A new lead supervisor takes over from the last one."),
    )
    course_ends_on = day_field(
        _("Their course ends on"),
        _("Of a student, where known: it is said when a body meets too late."),
        required=False,
    )

    def fit(self) -> None:
        """Offer everyone with a standing who can sign in, students first."""
        standings = Standing.objects.filter(ended_on=None).select_related("person")
        listed: dict[str, list[Person]] = {role: [] for role in _ASSIGNED_FIRST}
        known: set[int] = set()
        for one in sorted(standings, key=lambda one: (_place(one.role), one.person.name)):
            person = one.person
            if person.is_active and not person.is_system and person.pk not in known:
                known.add(person.pk)
                listed.setdefault(one.role, []).append(person)
        choose(self, "person", Person.objects.filter(pk__in=known))
        field: Any = self.fields["person"]
        groups = [
            (str(Role(role).label).capitalize(), [(one.pk, str(one)) for one in people])
            for role, people in listed.items()
            if people
        ]
        field.widget.choices = [("", field.empty_label), *groups]

    def act(self) -> Project:
        """Assign them."""
        actions.assign_member(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project


class Unassign(DeedForm):
    """Whose part ends, and why."""

    person = RowField(Person.objects.none(), label=_("Person"))
    reason = reason_field(_("Why their part ends"))

    def fit(self) -> None:
        """Offer the members, the lead left out."""
        live = self.subject.members.live().exclude(part=Part.LEAD)
        choose(self, "person", Person.objects.filter(pk__in=live.values("person")))

    def act(self) -> Project:
        """End it."""
        actions.end_membership(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project


class SignAgreement(DeedForm):
    """Who may use the data again, and when; signed with one's name."""

    intro = _(
        "What you collect stays in the archive, so that later cohorts can build on it. You are "
        "named as its author. Say from when others may use it."
    )
    terms = forms.ChoiceField(
        choices=Agreement.Terms.choices, label=_("The data are"), widget=forms.RadioSelect
    )
    embargo_months = forms.IntegerField(
        label=_("Months of embargo"),
        min_value=0,
        initial=0,
        required=False,
        help_text=_("0 where there is none."),
    )
    signed_name = forms.CharField(
        label=_("Sign with your name"),
        max_length=150,
        help_text=_("As it stands at the top right."),
    )

    def act(self) -> Project:
        """Sign it."""
        months = self.cleaned_data.pop("embargo_months") or 0
        actions.sign_agreement(self.subject, **self.cleaned_data, embargo_months=months, by=self.by)
        project: Project = self.subject
        return project
