"""The input of each deed on people and institutions, for its page and for the API."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.people import actions
from registry.people.letters import send_first_link, send_reset
from registry.people.models import Institution, Person, Scope, Training
from registry.people.sign_in import actions as sign_in
from registry.permissions import STANDINGS, Role, Verb
from registry.web import Deed, DeedForm, NarrowForm, day_field, deeds, reason_field


class AddPerson(DeedForm):
    """Who is to sign in; a link to set a password is sent to the e-mail."""

    intro = _("A link to set a password goes to the e-mail address. Standing is given afterwards.")

    name = forms.CharField(label=_("Name"), max_length=150)
    email = forms.EmailField(label=_("E-mail"), help_text=_("They sign in with it."))
    institution = forms.ModelChoiceField(
        Institution.objects.all(),
        label=_("Institution"),
        required=False,
        empty_label=_("none of these"),
    )
    post = forms.CharField(
        label=_("What they look after"),
        max_length=150,
        required=False,
        help_text=_("As others would say it: “penguins and shore birds”."),
    )
    orcid = forms.CharField(label=_("ORCID"), max_length=60, required=False)

    def act(self) -> Person:
        """Add the person, then send the link."""
        person = actions.add_person(**self.cleaned_data, by=self.by)
        send_first_link(person)
        return person


class DescribePerson(DeedForm):
    """One's own name, post and ORCID."""

    name = forms.CharField(label=_("Name"), max_length=150)
    post = forms.CharField(
        label=_("What you look after"),
        max_length=150,
        required=False,
        help_text=_("As others would say it."),
    )
    orcid = forms.CharField(
        label=_("ORCID"),
        max_length=60,
        required=False,
        help_text=_("It stands in the citation of every dataset that you help to make."),
    )

    def fit(self) -> None:
        """Begin with what stands there now."""
        for name, field in self.fields.items():
            field.initial = getattr(self.subject, name)

    def act(self) -> Person:
        """Change them."""
        return actions.describe_person(self.subject, **self.cleaned_data, by=self.by)


def _held(person: Person) -> list[tuple[str, str]]:
    held = person.standings.filter(ended_on=None).values_list("role", flat=True)
    return [(role, Role(role).label) for role in held]


class GiveStanding(DeedForm):
    """Which standing, and why."""

    role = forms.ChoiceField(
        label=_("Standing"), choices=[(role.value, role.label) for role in STANDINGS]
    )
    reason = reason_field(_("Why they have it"), _("It stays in the ledger."))

    def act(self) -> Person:
        """Give it."""
        return actions.give_standing(self.subject, **self.cleaned_data, by=self.by).person


class EndStanding(DeedForm):
    """Which standing, and why it ends."""

    role = forms.ChoiceField(label=_("Standing"), choices=[])
    reason = reason_field(_("Why it ends"), _("It stays in the ledger."))

    def fit(self) -> None:
        """Offer the standings held now."""
        field: Any = self.fields["role"]
        field.choices = _held(self.subject)

    def act(self) -> Person:
        """End it."""
        return actions.end_standing(self.subject, **self.cleaned_data, by=self.by).person


class InductPerson(DeedForm):
    """What they were shown, when, and until when it holds."""

    caution = _(
        "An induction says that somebody was shown how to work safely there. It does not replace "
        "your local code of practice or the supervision that it asks for."
    )

    about = forms.CharField(label=_("The place or the work"), max_length=200, required=False)
    training = forms.ModelChoiceField(
        Training.objects.all(),
        label=_("A training by name"),
        required=False,
        empty_label=_("none: an induction to a place or to work"),
        help_text=_("Where the house asks for a training before a procedure, only this counts."),
    )
    given_on = day_field(_("Given on"))
    expires_on = day_field(_("Holds until"))

    def act(self) -> Person:
        """Record it."""
        return actions.induct_person(self.subject, **self.cleaned_data, by=self.by).person


class ResetSecondFactor(DeedForm):
    """Why the second factor is taken away."""

    intro = _(
        "For someone who lost the phone and the recovery codes. Be sure that it is they who ask:"
        " look them in the face or call them back. They then sign in by password alone until they"
        " set up a new one; a letter tells them."
    )

    reason = reason_field(
        _("Why it is reset"), _("It stays in the ledger: how you knew who asked.")
    )

    def act(self) -> Person:
        """Reset it, then write to them."""
        person = sign_in.reset_second_factor(self.subject, **self.cleaned_data, by=self.by)
        send_reset(person)
        return person


class StopPerson(DeedForm):
    """Why they may no longer sign in."""

    intro = _(
        "Their sessions end now and their tokens are refused. What they did stays, and so does"
        " their standing."
    )

    reason = reason_field(_("Why they are stopped"), _("It stays in the ledger."))

    def act(self) -> Person:
        """Stop them."""
        return sign_in.stop_person(self.subject, **self.cleaned_data, by=self.by)


class AdmitPerson(DeedForm):
    """Why they may sign in again."""

    intro = _("Tokens that were neither revoked nor have expired hold again too.")

    reason = reason_field(_("Why they are admitted"), _("It stays in the ledger."))

    def act(self) -> Person:
        """Admit them."""
        return sign_in.admit_person(self.subject, **self.cleaned_data, by=self.by)


class OpenInstitution(DeedForm):
    """A collection, a university, or an owner of animals on loan."""

    name = forms.CharField(label=_("Name"), max_length=200, help_text=_("As letters name it."))
    is_university = forms.BooleanField(
        label=_("It is a university"),
        required=False,
        help_text=_("Its students and supervisors take part in projects."),
    )

    def act(self) -> Institution:
        """Add it."""
        return actions.open_institution(**self.cleaned_data, by=self.by)


class RenameInstitution(DeedForm):
    """What it is called now, and why."""

    name = forms.CharField(label=_("New name"), max_length=200)
    reason = reason_field(_("Why it is renamed"), _("It stays in the ledger, with the old name."))

    def fit(self) -> None:
        """Begin with what stands there now."""
        self.fields["name"].initial = self.subject.name

    def act(self) -> Institution:
        """Rename it."""
        return actions.rename_institution(self.subject, **self.cleaned_data, by=self.by)


class MakeToken(NarrowForm):
    """What the program is called, and for how long it may act."""

    name = forms.CharField(
        label=_("What it is for"), max_length=100, help_text=_("The program that will use it.")
    )
    scope = forms.ChoiceField(
        label=_("What it may do"),
        choices=Scope.choices,
        initial=Scope.READ,
        widget=forms.RadioSelect,
        help_text=_("Never more than you may do yourself. Give it the least that it needs."),
    )
    days = forms.IntegerField(
        label=_("Days until it expires"), min_value=1, max_value=366, initial=90
    )


ADD = Deed(
    Verb.PERSON_ADD,
    AddPerson,
    _("Add the person"),
    _("Who is to sign in?"),
    _("One account a person."),
)
OPEN_INSTITUTION = Deed(
    Verb.INSTITUTION_OPEN,
    OpenInstitution,
    _("Add the institution"),
    _("Which institution?"),
    _(
        "The collection itself, its partner university, and whoever else owns animals or sends "
        "people."
    ),
)
DEEDS = deeds(
    Deed(Verb.PERSON_DESCRIBE, DescribePerson, _("Change my details"), _("Your own details")),
    Deed(Verb.PERSON_INDUCT, InductPerson, _("Record an induction"), _("What were they shown?")),
    Deed(Verb.PERSON_GIVE_STANDING, GiveStanding, _("Give standing"), _("What may they do here?")),
    Deed(Verb.PERSON_END_STANDING, EndStanding, _("End a standing"), _("Which standing ends?")),
    Deed(
        Verb.PERSON_RESET_SECOND_FACTOR,
        ResetSecondFactor,
        _("Reset the second factor"),
        _("Did they lose the phone?"),
    ),
    Deed(Verb.PERSON_STOP, StopPerson, _("Stop signing in"), _("May they sign in no more?")),
    Deed(Verb.PERSON_ADMIT, AdmitPerson, _("Let them sign in"), _("May they sign in again?")),
)

INSTITUTION_DEEDS = deeds(
    Deed(Verb.INSTITUTION_RENAME, RenameInstitution, _("Rename it"), _("What is it called now?")),
)
