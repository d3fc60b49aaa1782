"""The input of a body's decision: changes asked for, approved with conditions, refused."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.approvals import actions
from registry.approvals.models import Approval
from registry.people.models import Person
from registry.projects.forms import choose, several
from registry.projects.models import Member
from registry.web import DeedForm, day_field, reason_field

CONDITION_ROWS = range(1, 7)
CHANGE_ROWS = range(1, 9)


class Return(DeedForm):
    """What must change, point by point."""

    intro = _("Each point is answered by the applicant before the request comes back to you.")

    reason = reason_field(_("Reason"), _("The applicants, the keepers and the auditor read it."))

    def act(self) -> Approval:
        """Ask for changes."""
        points = [self.cleaned_data[f"change_{n}"] for n in CHANGE_ROWS]
        reason = self.cleaned_data["reason"]
        return actions.return_approval(self.subject, reason=reason, changes=points, by=self.by)


class _Decision(DeedForm):
    """Why, and who took part."""

    reason = reason_field(_("Reason"), _("The applicants, the keepers and the auditor read it."))
    deciders = several(Person.objects.none(), _("Who took part"), _("The chair is always counted."))

    def fit(self) -> None:
        """Offer the seated members who have no part in a covered project."""
        approval = self.subject
        concerned = Member.objects.live().filter(project__in=approval.projects.all())
        seated = Person.objects.filter(
            pk__in=approval.body.seats.filter(ended_on=None).values("person")
        )
        choose(self, "deciders", seated.exclude(pk__in=concerned.values("person")))
        self.initial.setdefault("deciders", [self.by.pk])


class Approve(_Decision):
    """Why, who took part, and the conditions with the day by which evidence is due."""

    def clean(self) -> dict[str, Any]:
        """Refuse a day that belongs to no condition."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        for n in CONDITION_ROWS:
            if given.get(f"due_{n}") and not given.get(f"condition_{n}"):
                self.add_error(f"condition_{n}", _("Write the condition that is due on this day."))
        return given

    def act(self) -> Approval:
        """Approve it."""
        given = self.cleaned_data
        rows = [(given[f"condition_{n}"], given[f"due_{n}"]) for n in CONDITION_ROWS]
        return actions.grant_approval(
            self.subject,
            decision=given["reason"],
            conditions=[(text, due) for text, due in rows if text],
            deciders=given["deciders"],
            by=self.by,
        )

    def condition_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Give the fields of each condition, for the page."""
        return [(self[f"condition_{n}"], self[f"due_{n}"]) for n in CONDITION_ROWS]


for _n in CONDITION_ROWS:
    Approve.base_fields[f"condition_{_n}"] = forms.CharField(
        label=format_lazy(_("Condition {number}"), number=_n), max_length=1000, required=False
    )
    Approve.base_fields[f"due_{_n}"] = day_field(_("Evidence due"), required=False)


class Decide(Approve):
    """All that may be filled in where a decision is recorded: conditions, and points to change."""

    def change_rows(self) -> list[forms.BoundField]:
        """Give the field of each point, for the page."""
        return [self[f"change_{n}"] for n in CHANGE_ROWS]


for _n in CHANGE_ROWS:
    _point = forms.CharField(
        label=format_lazy(_("Point {number}"), number=_n),
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    Return.base_fields[f"change_{_n}"] = Decide.base_fields[f"change_{_n}"] = _point


class Refuse(_Decision):
    """Why, and who took part."""

    def act(self) -> Approval:
        """Refuse it."""
        return actions.refuse_approval(self.subject, **self.cleaned_data, by=self.by)
