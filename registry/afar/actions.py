"""Deeds on animals that are away or gone: custody, dossiers, and news of them."""

import hashlib
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.afar.dossiers import gather, written
from registry.afar.models import Custody, Dossier, News, first_and_last
from registry.animals.days import not_before, not_to_come, within_stay
from registry.animals.happening import in_being, settle, write
from registry.animals.models import Animal, EggCase, Embryo, Enclosure, Event, Group, Precision
from registry.animals.pregnancy import unfit_to_travel
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Institution, Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import locked, move, reasoned

type Subject = Animal | Group

_GIVE = {
    Animal: Verb.ANIMAL_GIVE_CUSTODY,
    Group: Verb.GROUP_GIVE_CUSTODY,
    EggCase: Verb.CASE_GIVE_CUSTODY,
}
_WRITE = {Animal: Verb.ANIMAL_WRITE_DOSSIER, Group: Verb.GROUP_WRITE_DOSSIER}
_HEAR = {Animal: Verb.ANIMAL_HEAR_NEWS, Group: Verb.GROUP_HEAR_NEWS}


def _of(subject: Subject | EggCase) -> dict[str, Any]:
    return {str(subject.kind): subject}


@transaction.atomic
def give_custody(
    subject: Subject | EggCase,
    *,
    holder: Institution,
    place: str,
    answerable: Person,
    began_on: date,
    expected_end_on: date,
    project: Project | None = None,
    why: str = "",
    vets_word: str = "",
    by: Person,
) -> Custody:
    """Give an animal, a group whole or an egg case into a partner's custody; it has not left then.

    Refused when: it has left; it is in custody already; a group or a case is empty; the day lies
    before its arrival or before it came to where it is, or in the future; it would be expected
    back before it went; it was not fit to travel, and no veterinary surgeon's word is given.
    """
    verb = _GIVE[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    before, after = move(subject, "give_custody")
    what = _("%(subject)s was not given into custody.") % {"subject": subject}
    held = subject.custodies.filter(state="given").first()
    if held is not None:
        raise Conflict(
            what,
            _("%(holder)s has had it since %(day)s.")
            % {"holder": held.holder, "day": held.began_on.isoformat()},
            "End that custody first.",
        )
    number = _number(subject)
    if number == 0:
        raise Conflict(what, "There is nothing alive in it.", "Record its number first.")
    last: Event | None
    if isinstance(subject, EggCase):
        not_to_come(began_on, what=what, field="began_on")
        last = subject.events.standing().last()
    else:
        within_stay(subject, began_on, what=what, field="began_on")
        last = subject.events.placing().last()
    if last is not None:
        said = "it came to where it is"
        not_before(began_on, last.happened_on, said, what=what, field="began_on")
    not_before(expected_end_on, began_on, "it goes", what=what, field="expected_end_on")
    why = _fit(subject, began_on, why, vets_word, what)
    custody = Custody.objects.create(
        **_of(subject),
        holder=holder,
        place=place,
        answerable=answerable,
        project=project,
        why=why,
        number=number,
        began_on=began_on,
        expected_end_on=expected_end_on,
        given_by=by,
    )
    event = write(subject, Event.Sort.SENT, began_on, by, institution=holder, note=why)
    _place(subject, None)
    record(verb, subject, by=by, before=before, after=after, touched=[custody, event])
    return custody


def _number(subject: Subject | EggCase) -> int:
    """Give how many go: of a case, the embryos that develop."""
    if isinstance(subject, EggCase):
        return subject.embryos.filter(outcome=Embryo.Outcome.DEVELOPING).count()
    return subject.number if isinstance(subject, Group) else 1


def _place(subject: Subject | EggCase, enclosure: Enclosure | None) -> None:
    """Bring where it is into step with the event that was written."""
    if isinstance(subject, EggCase):
        subject.enclosure = enclosure
        subject.save(update_fields=["enclosure"])
    else:
        settle(subject)


def _fit(subject: Subject | EggCase, day: date, why: str, vets_word: str, what: str) -> str:
    """Give why it goes, with the word that lets one go that is not fit to travel.

    Raises
    ------
    Unsound
        When it is not, and there is no such word.
    """
    unfit = unfit_to_travel(subject, day) if isinstance(subject, Animal) else ""
    if not unfit:
        return why
    if not vets_word.strip():
        raise Unsound(
            what,
            unfit,
            "Do not send it. If it has gone already, or a veterinary surgeon allowed it, write who"
            " said so, and why.",
            fields={"vets_word": "Write which veterinary surgeon allowed it, and why."},
        )
    return f"{why} Travelled by a veterinary surgeon’s word: {vets_word}".strip()


@transaction.atomic
def end_custody(
    custody: Custody,
    *,
    outcome: str,
    ended_on: date,
    enclosure: Enclosure | None = None,
    end_note: str = "",
    by: Person,
) -> Custody:
    """End a custody: the animal came back, or it died there or left from there for good.

    Refused when: it was ended; the day lies before it began, or in the future; it is said to have
    come back and has left, or the other way round; it came back and its enclosure is not told, or
    did not exist on that day.
    """
    require(by, Verb.CUSTODY_END, custody)
    subject = locked(custody.subject)
    custody = locked(custody)
    before, after = move(custody, "end")
    what = "The custody was not ended."
    not_to_come(ended_on, what=what, field="ended_on")
    not_before(ended_on, custody.began_on, "it began", what=what, field="ended_on")
    is_back, has_left = outcome == Custody.Outcome.RETURNED, subject.state in {"left", "ended"}
    if is_back == has_left:
        raise Unsound(
            what,
            _("%(subject)s has left, by the register.") % {"subject": subject}
            if has_left
            else _("%(subject)s is still kept.") % {"subject": subject},
            "Say how it left, or take that event back first."
            if has_left
            else "Record its death or departure on its own page first.",
            fields={"outcome": "This does not agree with the register."},
        )
    touched: list[Any] = []
    if is_back:
        if enclosure is None:
            raise Unsound(
                what,
                "It came back, and where it lives now is not told.",
                "Choose its enclosure.",
                fields={"enclosure": "Choose where it lives now."},
            )
        in_being(enclosure, ended_on, what=what)
        back = write(subject, Event.Sort.RETURNED, ended_on, by, enclosure=enclosure, note=end_note)
        _place(subject, enclosure)
        touched = [subject, back]
    custody.outcome, custody.ended_on, custody.end_note = outcome, ended_on, end_note
    custody.ended_by, custody.end_recorded_at = by, timezone.now()
    custody.save(update_fields=["outcome", "ended_on", "end_note", "ended_by", "end_recorded_at"])
    record(Verb.CUSTODY_END, custody, by=by, before=before, after=after, touched=touched)
    return custody


@transaction.atomic
def write_dossier(subject: Subject, *, receiver: str, by: Person) -> Dossier:
    """Write down what is to go with an animal or a group, as the register has it at this moment.

    Refused when: nobody is named to receive it.
    """
    verb = _WRITE[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    receiver = " ".join(receiver.split())
    if not receiver:
        raise Unsound(
            "The dossier was not written.",
            "Nobody is named to receive it.",
            "Name the collection or the person to whom it goes.",
            fields={"receiver": "Name who receives it."},
        )
    before, after = move(subject, "write_dossier")
    now = timezone.now()
    text = written(gather(subject, receiver=receiver, written_by=by, written_at=now))
    dossier = Dossier.objects.create(
        **_of(subject),
        receiver=receiver,
        text=text,
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        written_by=by,
        written_at=now,
    )
    record(
        verb, subject, by=by, before=before, after=after, touched=[dossier], sha256=dossier.sha256
    )
    return dossier


@transaction.atomic
def hear_news(
    subject: Subject,
    *,
    sort: str,
    happened_on: date,
    precision: str = Precision.DAY,
    number: int | None = None,
    where: str,
    said: str = "",
    told_by: str,
    follows: News | None = None,
    by: Person,
) -> News:
    """Record what was heard of one that has left, or of the young that it had elsewhere.

    Refused when: it lives here; it died here or joined another group; the day lies before it left,
    before the birth of those it is told of, or in the future; it died elsewhere before that day;
    young are born and their number is not told; it follows news that is no birth, is of another,
    or was taken back.
    """
    verb = _HEAR[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    before, after = move(subject, "hear_news")
    what = _("The news of %(subject)s was not recorded.") % {"subject": subject}
    first, last = first_and_last(happened_on, precision)
    not_to_come(first, what=what)
    left = subject.events.standing().filter(sort__in=[Event.Sort.DIED, Event.Sort.DEPARTED]).last()
    if left is None or left.sort == Event.Sort.DIED:
        why = (
            _("It died here on %(day)s.") % {"day": left.happened_on.isoformat()}
            if left
            else "It did not depart."
        )
        raise Conflict(what, why, "Look at its page, and which animal is meant.")
    not_before(last, left.happened_on, "it left", what=what)
    if sort == News.Sort.BRED and not number:
        raise Unsound(
            what,
            "It bred, and how many young were born was not told.",
            "Give their number, as far as it is known.",
            fields={"number": "Give how many were born."},
        )
    if follows is not None:
        _check_birth(follows, subject, last, what)
    elif isinstance(subject, Animal):
        _check_living(subject, first, last, what, is_death=sort == News.Sort.DIED)
    news = News.objects.create(
        **_of(subject),
        follows=follows,
        generation=follows.generation + 1 if follows else 0,
        sort=sort,
        # Of a month or a year no day in it is told.
        happened_on=first if precision in {Precision.MONTH, Precision.YEAR} else happened_on,
        precision=precision,
        number=number,
        where=where,
        said=said,
        told_by=told_by,
        recorded_by=by,
    )
    record(verb, subject, by=by, before=before, after=after, touched=[news], sort=str(sort))
    return news


def _check_birth(birth: News, subject: Subject, last: date, what: str) -> None:
    """Refuse to follow what is no standing news of young of this very subject."""
    is_of_it = birth.subject == subject and birth.sort == News.Sort.BRED and birth.state == "told"
    if not is_of_it:
        raise Unsound(
            what,
            "What it follows is no standing news of young of this one.",
            "Choose the birth of the young that the news is about.",
            fields={"follows": "Choose one of the births listed."},
        )
    not_before(last, birth.days[0], "those young were born", what=what)


def _check_living(animal: Animal, first: date, last: date, what: str, *, is_death: bool) -> None:
    """Refuse a life after a death: of one animal only one death stands, and it comes last."""
    own = animal.news.filter(follows=None, state="told")
    death = own.filter(sort=News.Sort.DIED).first()
    if death is not None and (is_death or first > death.days[1]):
        raise Conflict(
            what,
            _("It died elsewhere, as was told: %(day)s.") % {"day": death.days[0].isoformat()},
            "Take that news back first, if it was wrong.",
        )
    later = own.order_by("happened_on").last() if is_death else None
    if later is not None:
        said = f"“{later.get_sort_display()}” was told of it"
        not_before(last, later.happened_on, said, what=what)


@transaction.atomic
def take_back_news(news: News, *, reason: str, by: Person) -> News:
    """Take back news that was wrong; it stays readable.

    Refused when: no reason is given; it was taken back already; other news follows it.
    """
    require(by, Verb.NEWS_TAKE_BACK, news)
    news = locked(news)
    reason = reasoned(news, "take_back", reason)
    if news.followed_by.filter(state="told").exists():
        raise Conflict(
            "The news was not taken back.",
            "Other news tells of the young that were born then.",
            "Take that back first.",
        )
    before, after = move(news, "take_back")
    record(Verb.NEWS_TAKE_BACK, news, by=by, before=before, after=after, reason=reason)
    return news
