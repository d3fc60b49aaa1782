"""The terms of a request and of an amendment: what for, when, where, by whom."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, Enclosure
from registry.approvals import actions
from registry.approvals.forms.judging import planned_taxa
from registry.approvals.models import Approval, PermissionKind
from registry.people.models import Body, Person
from registry.projects.forms import choose, several, text_field
from registry.projects.models import Member, Severity
from registry.web import DeedForm, day_field

WEEKDAYS = [
    ("1", _("Monday")),
    ("2", _("Tuesday")),
    ("3", _("Wednesday")),
    ("4", _("Thursday")),
    ("5", _("Friday")),
    ("6", _("Saturday")),
    ("7", _("Sunday")),
]


def _kind_of(choices: Any, label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        choices=[("", _("not said yet")), *choices.choices], label=label, required=False
    )


class _Terms(DeedForm):
    """What is asked for and why, when, where and by whom."""

    title = forms.CharField(
        label=_("The question to the body"),
        max_length=200,
        help_text=_("May … use …? One sentence."),
    )
    reference = forms.CharField(
        label=_("The body's own number"),
        max_length=60,
        required=False,
        help_text=_("Where it has one."),
    )
    case = text_field(_("Why it should be approved"))
    harm_category = _kind_of(Approval.Harm, _("The worst that an animal is likely to go through"))
    harms = text_field(_("Harm: what it may cost the animals"), required=False)
    benefit_category = _kind_of(Approval.Benefit, _("To whom it is a benefit above all"))
    benefits = text_field(_("Benefit: what it may give"), required=False)
    starts_on = day_field(_("First day"))
    ends_on = day_field(_("Last day"))
    weekdays = forms.MultipleChoiceField(
        choices=WEEKDAYS,
        label=_("Days of the week"),
        widget=forms.CheckboxSelectMultiple,
        initial=[number for number, _ in WEEKDAYS],
    )
    max_severity = forms.TypedChoiceField(
        choices=Severity.choices, coerce=int, label=_("Highest severity")
    )
    places = several(Enclosure.objects.all(), _("Places"), _("Nowhere else is covered."))
    people = several(
        Person.objects.none(),
        _("Named people only"),
        _("Leave all empty for the project's members."),
    )
    reuse_consent = forms.ChoiceField(
        choices=Approval.Consent.choices,
        label=_("Animals that went through a procedure before may be used again"),
        required=False,
        help_text=_("A licence must consent to it; a vet advises on each animal."),
    )
    reuse_animals = several(
        Animal.objects.none(),
        _("Animals that it names"),
        _("After a severe use an animal must be named, and examined first."),
    )

    def terms(self) -> dict[str, Any]:
        """Give the cleaned data as the deed takes them."""
        given = self.cleaned_data
        return {
            **given,
            "weekdays": "".join(given["weekdays"]),
            "reuse_consent": given["reuse_consent"] or Approval.Consent.NONE,
        }

    def offer_members(self, projects: Any) -> None:
        """Offer the members of these projects, and the animals that they work with."""
        kept = Animal.objects.filter(state="kept", taxon__in=planned_taxa(projects))
        choose(self, "reuse_animals", kept.select_related("taxon"))
        live = Member.objects.live().filter(project__in=projects)
        choose(self, "people", Person.objects.filter(pk__in=live.values("person")))


class RequestApproval(_Terms):
    """Which body is asked for which permission, for what, when and where."""

    permission = forms.ModelChoiceField(
        PermissionKind.objects.filter(satisfied_by=PermissionKind.SatisfiedBy.APPROVAL),
        label=_("Permission"),
    )
    body = forms.ModelChoiceField(Body.objects.all(), label=_("Body that decides"))
    field_order = ("permission", "body")
    intro = _("This drafts the request. Add its limits next, then submit it.")

    def fit(self) -> None:
        """Begin with what the plan says."""
        project = self.subject
        self.offer_members([project])
        plan = {
            "starts_on": project.starts_on,
            "ends_on": project.ends_on,
            "max_severity": project.plan.max_severity,
            "places": [one.pk for one in project.plan.places.all()],
        }
        self.initial = {**plan, **self.initial}

    def act(self) -> Approval:
        """Draft it."""
        return actions.request_approval(self.subject, **self.terms(), by=self.by)


class Amend(_Terms):
    """What is to change; the limits are copied and change next."""

    intro = _(
        "This drafts an amendment with the limits copied. The approval stays as it is until the "
        "body approves the amendment, and ends on the amendment's first day."
    )

    def fit(self) -> None:
        """Begin with the approval as it stands."""
        approval = self.subject
        self.offer_members(approval.projects.all())
        held = {name: getattr(approval, name) for name in actions.TEXTS}
        held["starts_on"] = max(approval.starts_on, timezone.localdate())
        held["weekdays"] = list(approval.weekdays)
        held["places"] = [one.pk for one in approval.places.all()]
        held["people"] = [one.pk for one in approval.people.all()]
        held["reuse_animals"] = [one.pk for one in approval.reuse_animals.all()]
        self.initial = {**held, **self.initial}

    def act(self) -> Approval:
        """Draft it."""
        return actions.amend_approval(self.subject, **self.terms(), by=self.by)
