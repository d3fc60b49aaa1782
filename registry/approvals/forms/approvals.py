"""The input of each deed on an approval, and of those asked of a project."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure, LifeStage, Taxon
from registry.approvals import actions
from registry.approvals.forms.screening import Screen
from registry.approvals.models import Approval, Condition, Limit, PermissionKind
from registry.choices import RowField
from registry.people.models import Body, Person
from registry.permissions import Part, Verb
from registry.projects.forms import choose, several, text_field
from registry.projects.models import Member, Procedure, Project, Severity
from registry.web import Deed, DeedForm, day_field, deeds, reason_field

WEEKDAYS = [
    ("1", _("Monday")),
    ("2", _("Tuesday")),
    ("3", _("Wednesday")),
    ("4", _("Thursday")),
    ("5", _("Friday")),
    ("6", _("Saturday")),
    ("7", _("Sunday")),
]
CONDITION_ROWS = range(1, 7)


# ------------------------------------------------------------------------------- the project's side


class StateNeed(DeedForm):
    """Which permission, whether it is needed, and why not where it is not."""

    permission = forms.ModelChoiceField(PermissionKind.objects.all(), label=_("Permission"))
    is_needed = forms.BooleanField(
        label=_("It is needed"),
        required=False,
        initial=True,
        help_text=_("Leave it unticked where it is not, and write why."),
    )
    reason = text_field(
        _("Reason"),
        _("Required where it is not needed; deciders and the auditor read it."),
        3,
        required=False,
    )

    def act(self) -> Project:
        """Say so."""
        return actions.state_need(self.subject, **self.cleaned_data, by=self.by)


class Start(DeedForm):
    """Nothing to fill in."""

    intro = _("Collecting can start once every permission that is needed is live today.")

    def act(self) -> Project:
        """Start it."""
        return actions.start_project(self.subject, by=self.by)


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
    harms = text_field(_("Harm: what it may cost the animals"), required=False)
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

    def terms(self) -> dict[str, Any]:
        """Give the cleaned data as the deed takes them."""
        return {**self.cleaned_data, "weekdays": "".join(self.cleaned_data["weekdays"])}

    def offer_people(self, projects: Any) -> None:
        """Offer the members of these projects."""
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
        self.offer_people([project])
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
        self.offer_people(approval.projects.all())
        held = {name: getattr(approval, name) for name in actions.TEXTS}
        held["starts_on"] = max(approval.starts_on, timezone.localdate())
        held["weekdays"] = list(approval.weekdays)
        held["places"] = [one.pk for one in approval.places.all()]
        held["people"] = [one.pk for one in approval.people.all()]
        self.initial = {**held, **self.initial}

    def act(self) -> Approval:
        """Draft it."""
        return actions.amend_approval(self.subject, **self.terms(), by=self.by)


# -------------------------------------------------------------------------------------- asking


class Cover(DeedForm):
    """Which other project of one's own."""

    project = RowField(Project.objects.none(), label=_("Project"))

    def fit(self) -> None:
        """Offer the projects that one leads."""
        mine = self.by.memberships.filter(ended_on=None, part=Part.LEAD).values("project")
        covered = self.subject.projects.values("pk")
        led = Project.objects.running().filter(pk__in=mine).exclude(pk__in=covered)
        choose(self, "project", led.select_related("study"))

    def act(self) -> Approval:
        """Cover it."""
        return actions.cover_project(self.subject, **self.cleaned_data, by=self.by)


class AddLimit(DeedForm):
    """Of which taxon and stage, by which procedure, how many and how often."""

    taxon = forms.ModelChoiceField(Taxon.objects.all(), label=_("Taxon"))
    life_stage = forms.ChoiceField(
        choices=[("", _("any stage")), *LifeStage.choices], label=_("Stage of life"), required=False
    )
    procedure = forms.ModelChoiceField(Procedure.objects.all(), label=_("Procedure"))
    max_animals = forms.IntegerField(label=_("Animals at most"), min_value=1)
    max_contacts_each = forms.IntegerField(
        label=_("Times each at most"),
        min_value=1,
        required=False,
        help_text=_("Leave empty for no limit."),
    )

    def act(self) -> Approval:
        """Add it."""
        actions.add_limit(self.subject, **self.cleaned_data, by=self.by)
        approval: Approval = self.subject
        return approval


class DropLimit(DeedForm):
    """Which line."""

    limit = forms.ModelChoiceField(Limit.objects.none(), label=_("Limit"))

    def fit(self) -> None:
        """Offer the lines of the request."""
        live = self.subject.limits.filter(is_dropped=False).select_related("taxon", "procedure")
        choose(self, "limit", live)

    def act(self) -> Approval:
        """Drop it."""
        return actions.drop_limit(self.subject, **self.cleaned_data, by=self.by)


class Submit(DeedForm):
    """Nothing to fill in."""

    intro = _("The body decides on the limits as they stand. You cannot change them until then.")

    def act(self) -> Approval:
        """Submit it."""
        return actions.submit_approval(self.subject, by=self.by)


# -------------------------------------------------------------------------------------- deciding


class Return(DeedForm):
    """What must change."""

    reason = reason_field(_("Reason"), _("The applicants, the keepers and the auditor read it."))

    def act(self) -> Approval:
        """Ask for changes."""
        return actions.return_approval(self.subject, **self.cleaned_data, by=self.by)


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


class Refuse(_Decision):
    """Why, and who took part."""

    def act(self) -> Approval:
        """Refuse it."""
        return actions.refuse_approval(self.subject, **self.cleaned_data, by=self.by)


# ------------------------------------------------------------------------------- once it is granted


class Suspend(DeedForm):
    """Why it is suspended."""

    caution = _(
        "From today no contact is covered. Feeding, treatment and all other care of the animals go "
        "on, and an animal that is under way is brought to a safe end first."
    )
    reason = reason_field(_("Why it is suspended"), _("The members and the auditor read this."))

    def act(self) -> Approval:
        """Suspend it."""
        return actions.suspend_approval(self.subject, **self.cleaned_data, by=self.by)


class Reinstate(DeedForm):
    """Why it is in force again."""

    reason = reason_field(_("Why it is in force again"))

    def act(self) -> Approval:
        """Reinstate it."""
        return actions.reinstate_approval(self.subject, **self.cleaned_data, by=self.by)


class Withdraw(DeedForm):
    """Why it is withdrawn."""

    intro = _("From today nothing is covered by it, and it cannot be put in force again.")
    reason = reason_field(_("Why it is withdrawn"))

    def act(self) -> Approval:
        """Withdraw it."""
        return actions.withdraw_approval(self.subject, **self.cleaned_data, by=self.by)


class Close(DeedForm):
    """Nothing to fill in."""

    intro = _("The work under it is done. From today nothing is covered by it.")

    def act(self) -> Approval:
        """Close it."""
        return actions.close_approval(self.subject, by=self.by)


class GiveEvidence(DeedForm):
    """For which condition, and what shows that it is met."""

    condition = forms.ModelChoiceField(Condition.objects.none(), label=_("Condition"))
    evidence = text_field(_("Evidence"), _("What shows that it is met, and where that is kept."))

    def fit(self) -> None:
        """Offer the conditions that are not met."""
        choose(self, "condition", self.subject.conditions.filter(met_on=None))

    def act(self) -> Approval:
        """Give it."""
        return actions.give_evidence(self.subject, **self.cleaned_data, by=self.by)


PROJECT_DEEDS = deeds(
    Deed(Verb.PROJECT_START, Start, _("Start collecting"), _("Is everything ready to start?")),
    Deed(Verb.PROJECT_NEED, StateNeed, _("State a need"), _("Which permission is needed?")),
    Deed(Verb.PROJECT_SCREEN, Screen, _("Screen a procedure"), _("Is this procedure regulated?")),
    Deed(
        Verb.PROJECT_REQUEST_APPROVAL,
        RequestApproval,
        _("Request an approval"),
        _("What is asked of which body?"),
    ),
)

DEEDS = deeds(
    Deed(Verb.APPROVAL_APPROVE, Approve, _("Approve"), _("Approve this?")),
    Deed(Verb.APPROVAL_RETURN, Return, _("Ask for changes"), _("What must change?")),
    Deed(Verb.APPROVAL_REFUSE, Refuse, _("Refuse"), _("Why is it refused?")),
    Deed(Verb.APPROVAL_ADD_LIMIT, AddLimit, _("Add a limit"), _("How many, by which procedure?")),
    Deed(Verb.APPROVAL_DROP_LIMIT, DropLimit, _("Drop a limit"), _("Which limit is dropped?")),
    Deed(Verb.APPROVAL_COVER, Cover, _("Cover another project"), _("Which project too?")),
    Deed(Verb.APPROVAL_SUBMIT, Submit, _("Submit for decision"), _("Submit it for decision?")),
    Deed(
        Verb.APPROVAL_GIVE_EVIDENCE, GiveEvidence, _("Give evidence"), _("Which condition is met?")
    ),
    Deed(Verb.APPROVAL_AMEND, Amend, _("Request an amendment"), _("What is to change?")),
    Deed(Verb.APPROVAL_REINSTATE, Reinstate, _("Reinstate"), _("Put it in force again?")),
    Deed(Verb.APPROVAL_CLOSE, Close, _("Close"), _("Is the work under it done?")),
    Deed(Verb.APPROVAL_SUSPEND, Suspend, _("Suspend"), _("Suspend this approval from today?")),
    Deed(Verb.APPROVAL_WITHDRAW, Withdraw, _("Withdraw"), _("Withdraw it for good?")),
)
