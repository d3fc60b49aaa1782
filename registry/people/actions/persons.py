"""Deeds about people: adding them, their standing, institutions, inductions, tokens."""

from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import (
    ApiToken,
    Induction,
    Institution,
    Person,
    Scope,
    Standing,
    Training,
)
from registry.people.orcid import normalise
from registry.people.tokens import digest_of, new_token
from registry.permissions import Role, Verb, require
from registry.search import index as search
from registry.transitions import locked


@transaction.atomic
def add_person(
    *,
    name: str,
    email: str,
    institution: Institution | None = None,
    post: str = "",
    orcid: str = "",
    password: str | None = None,
    by: Person,
) -> Person:
    """Add a person who can sign in.

    Refused when: the e-mail is in use; the ORCID's check character is wrong.
    """
    require(by, Verb.PERSON_ADD)
    if Person.objects.filter(email__iexact=email).exists():
        raise Unsound(
            _("%(name)s was not added.") % {"name": name},
            _("Someone already signs in as %(email)s.") % {"email": email},
            "Give another e-mail, or give that person the standing instead.",
            fields={"email": "Someone already signs in with it."},
        )
    person = Person(
        name=name,
        email=email,
        institution=institution,
        post=post,
        orcid=normalise(orcid) if orcid else "",
    )
    if password:
        person.set_password(password)
    else:
        person.set_unusable_password()
    person.save()
    search.write(person)
    record(Verb.PERSON_ADD, person, by=by)
    return person


@transaction.atomic
def describe_person(person: Person, *, name: str, post: str, orcid: str, by: Person) -> Person:
    """Change one's own details.

    Refused when: the ORCID's check character is wrong.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    person.name, person.post = name, post
    person.orcid = normalise(orcid) if orcid else ""
    person.save(update_fields=["name", "post", "orcid"])
    search.write(person)
    record(Verb.PERSON_DESCRIBE, person, by=by)
    return person


@transaction.atomic
def give_standing(person: Person, *, role: str, reason: str, by: Person) -> Standing:
    """Give a person a site standing.

    Refused when: they hold it already; it is one's own.
    """
    require(by, Verb.PERSON_GIVE_STANDING, person)
    person = locked(person)
    if person.standings.filter(role=role, ended_on=None).exists():
        raise Conflict(
            "No standing was given.",
            _("%(person)s holds it already.") % {"person": person},
            "Choose another, or end that one first.",
        )
    standing = Standing.objects.create(person=person, role=role)
    record(
        Verb.PERSON_GIVE_STANDING, person, by=by, reason=reason, touched=[standing], role=str(role)
    )
    return standing


@transaction.atomic
def end_standing(person: Person, *, role: str, reason: str, by: Person) -> Standing:
    """End a site standing.

    Refused when: it is not held; it is the last administrator's.
    """
    require(by, Verb.PERSON_END_STANDING, person)
    person = locked(person)
    # All of this role, so that two administrators cannot end each other's at once.
    live = list(
        Standing.objects.select_for_update().filter(role=role, ended_on=None).order_by("pk")
    )
    standing = next((one for one in live if one.person_id == person.pk), None)
    if standing is None:
        raise Conflict(
            "No standing was ended.",
            _("%(person)s does not hold it.") % {"person": person},
            "Look at the page again.",
        )
    if role == Role.ADMINISTRATOR and len(live) == 1:
        raise Unsound(
            "The standing was not ended.",
            "Nobody else could then give standing.",
            "Give another person the standing of administrator first.",
        )
    standing.ended_on = timezone.localdate()
    standing.save(update_fields=["ended_on"])
    record(
        Verb.PERSON_END_STANDING, person, by=by, reason=reason, touched=[standing], role=str(role)
    )
    return standing


@transaction.atomic
def induct_person(
    person: Person,
    *,
    about: str = "",
    training: Training | None = None,
    given_on: date,
    expires_on: date,
    by: Person,
) -> Induction:
    """Record that a person was shown how to work safely, or trained, and until when that holds.

    Refused when: it expires before it was given; it says neither the place or work, nor a training.
    """
    require(by, Verb.PERSON_INDUCT, person)
    about = about.strip() or (training.name if training else "")
    if not about:
        raise Unsound(
            "The induction was not recorded.",
            "It says neither what they were shown nor which training they had.",
            "Write the place or the work, or choose a training.",
            fields={"about": "Write it, or choose a training."},
        )
    if expires_on < given_on:
        raise Unsound(
            "The induction was not recorded.",
            "It would expire before it was given.",
            "Give a later day of expiry.",
            fields={"expires_on": "Before it was given."},
        )
    induction = Induction.objects.create(
        person=person,
        about=about,
        training=training,
        given_by=by,
        given_on=given_on,
        expires_on=expires_on,
    )
    record(Verb.PERSON_INDUCT, person, by=by, touched=[induction], about=about)
    return induction


def _name_free(name: str, what: str, *, but: Institution | None = None) -> str:
    """Give the name without its margins, or refuse one that another institution bears."""
    name = " ".join(name.split())
    held = Institution.objects.filter(name__iexact=name)
    if any(one != but for one in held):
        raise Unsound(
            what,
            _("“%(name)s” is in the register already.") % {"name": name},
            "Use that one, or give another name.",
            fields={"name": "It is taken."},
        )
    return name


@transaction.atomic
def open_institution(*, name: str, is_university: bool, by: Person) -> Institution:
    """Add a collection, a university, or an owner of animals on loan.

    Refused when: there is one of that name.
    """
    require(by, Verb.INSTITUTION_OPEN)
    name = _name_free(name, "The institution was not added.")
    institution = Institution.objects.create(name=name, is_university=is_university)
    record(Verb.INSTITUTION_OPEN, institution, by=by)
    return institution


@transaction.atomic
def rename_institution(
    institution: Institution, *, name: str, reason: str, by: Person
) -> Institution:
    """Rename an institution; what names it says the new name from then on.

    Refused when: another one is of that name.
    """
    require(by, Verb.INSTITUTION_RENAME, institution)
    institution = locked(institution)
    what, was = "The institution was not renamed.", institution.name
    institution.name = _name_free(name, what, but=institution)
    institution.save(update_fields=["name"])
    record(Verb.INSTITUTION_RENAME, institution, by=by, reason=reason, was=was)
    return institution


@transaction.atomic
def make_token(
    person: Person, *, name: str, days: int, scope: str = Scope.READ, by: Person
) -> tuple[str, ApiToken]:
    """Make a named token for a program, and give its secret, which is shown this once.

    Refused when: it would live for more than a year, or less than a day.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    if not 1 <= days <= 366:
        raise Unsound(
            "No token was made.",
            "It must live for 1 to 366 days.",
            "Give a number of days in that range.",
            fields={"days": "1 to 366."},
        )
    secret = new_token()
    token = ApiToken.objects.create(
        person=person,
        name=name,
        digest=digest_of(secret),
        scope=scope,
        expires_at=timezone.now() + timedelta(days=days),
    )
    record(
        Verb.PERSON_DESCRIBE,
        person,
        by=by,
        touched=[token],
        token=token.pk,
        token_name=name,
        scope=str(scope),
    )
    return secret, token


@transaction.atomic
def revoke_token(token: ApiToken, *, by: Person) -> ApiToken:
    """Revoke one of one's own tokens.

    Refused when: it is someone else's.
    """
    require(by, Verb.PERSON_DESCRIBE, token.person)
    token = locked(token)
    token.revoked_at = token.revoked_at or timezone.now()
    token.save(update_fields=["revoked_at"])
    record(Verb.PERSON_DESCRIBE, token.person, by=by, touched=[token], revoked=token.pk)
    return token
