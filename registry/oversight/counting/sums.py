"""Count animals and contacts from enrolments and uses, as of a day and as known at a moment.

Every count here is asked "as of": what had happened by a day, as far as it was known at a moment.
Rows are only ever added, and a view leaves out what was recorded later, so that for a fixed moment
a view never changes.

Animals that are told apart count once, however often they are used. Members of a counted group
cannot be told apart, so they are counted on the cautious side: see `places_taken` and
`contacts_of`.

References
----------
Interfaces of this project, sections 3 (two clocks) and 4 (numbers count across projects).
Directive 2010/63/EU, Annex VIII, section II: severity is that of the most severe effects that an
individual is likely to go through; UK advisory notes on actual severity, January 2014: the highest
that was reached, the accumulation of lesser events included, neither the end state nor the average.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from registry.oversight.counting.rows import (
    NOW,
    AsOf,
    EnrolmentRow,
    Kind,
    LineUse,
    Subject,
    UseRow,
    UseSum,
    lot_of,
)

WINDOWS_D = (7, 28, 365)
"""The stretches, in days, over which an animal's contacts are shown (house rule, trade 2.7)."""


def standing(uses: Iterable[UseRow], as_of: AsOf = NOW) -> Iterator[UseRow]:
    """Give the uses that stood: happened by the day, recorded by the moment, not taken back by it.

    Parameters
    ----------
    uses : iterable of UseRow
        Every row, reversing entries among them.
    as_of : AsOf

    Yields
    ------
    UseRow
        Never a reversing entry.

    Notes
    -----
    A reversal takes a use back from the moment at which it was recorded: a view as known before
    that moment still holds the use.
    """
    known = [use for use in uses if as_of.is_known(use.recorded_at)]
    reversed_numbers = {use.reverses for use in known if use.reverses is not None}
    for use in known:
        if (
            use.reverses is None
            and use.number not in reversed_numbers
            and as_of.has_happened(use.happened_on)
        ):
            yield use


def enrolled(rows: Iterable[EnrolmentRow], as_of: AsOf = NOW) -> Iterator[EnrolmentRow]:
    """Give the enrolments that had begun, whether or not they ended since."""
    for row in rows:
        if as_of.is_known(row.recorded_at) and as_of.has_happened(row.from_on):
            yield row


def is_live(row: EnrolmentRow, as_of: AsOf) -> bool:
    """Say whether an enrolment held on the day itself, as far as was known.

    Raises
    ------
    ValueError
        When no day is given: an enrolment is live on a day.
    """
    if as_of.day is None:
        raise ValueError("an enrolment is live on a day; give one")
    if not (as_of.is_known(row.recorded_at) and row.from_on <= as_of.day):
        return False
    if not as_of.is_known(row.left_recorded_at) or row.left_on is None:
        return True
    return as_of.day <= row.left_on


def places_taken(
    enrolments: Iterable[EnrolmentRow], uses: Iterable[UseRow], as_of: AsOf = NOW
) -> dict[str, int]:
    """Count the distinct animals that were enrolled or used, by lot.

    Parameters
    ----------
    enrolments : iterable of EnrolmentRow
    uses : iterable of UseRow
        Every row, reversing entries among them.
    as_of : AsOf

    Returns
    -------
    dict of str to int
        Lot to animals; the sum is the number of distinct animals.

    Notes
    -----
    An animal that is told apart is a lot of 1, in however many projects it is used.

    Members of a group are not told apart, so two enrolments of the same group may be of the same
    animals or of different ones. The cautious side for a limit is that they differ: each enrolment
    of a group is a lot of its own, and lots add up. Within an enrolment the same animals come
    back from use to use, so the lot is the larger of the number enrolled and the largest number
    used at once. Uses of a group outside any enrolment form one lot in each project, with the
    largest number used at once.

    A place once taken stays taken, though the animal left since: it was exposed to the work. More
    places need an amended approval, which a body decides.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 1, tzinfo=UTC)
    >>> strings = EnrolmentRow(
    ...     1, 4, Subject("group", 7), Kind(2), 10, frozenset(), date(2026, 3, 1), at)
    >>> use = UseRow(
    ...     1, 4, Subject("group", 7), Kind(2), 12, 5, True, date(2026, 3, 2), at, enrolment=1)
    >>> places_taken([strings], [use])
    {'group 7, enrolment 1': 12}
    """
    lots: dict[str, int] = {}
    for row in enrolled(enrolments, as_of):
        lot = lot_of(row.subject, row.number, row.project)
        lots[lot] = max(lots.get(lot, 0), row.animals)
    for use in standing(uses, as_of):
        lot = lot_of(use.subject, use.enrolment, use.project)
        lots[lot] = max(lots.get(lot, 0), use.animals)
    return lots


def distinct_animals(
    enrolments: Iterable[EnrolmentRow], uses: Iterable[UseRow], as_of: AsOf = NOW
) -> int:
    """Give how many distinct animals were enrolled or used; see `places_taken` for groups."""
    return sum(places_taken(enrolments, uses, as_of).values())


def contacts_of(
    uses: Iterable[UseRow], as_of: AsOf = NOW, *, hands_on: bool = False
) -> dict[Subject, int]:
    """Count the contacts of each subject over all projects.

    Parameters
    ----------
    uses : iterable of UseRow
    as_of : AsOf
    hands_on : bool
        Whether to leave out uses that only watch.

    Returns
    -------
    dict of Subject to int

    Notes
    -----
    Each use of a group counts one for the group, whatever its number: one of its members may have
    been in every one of them, and it is that member whom a limit on contacts protects.
    """
    counts: dict[Subject, int] = {}
    for use in standing(uses, as_of):
        if use.is_contact or not hands_on:
            counts[use.subject] = counts.get(use.subject, 0) + 1
    return counts


def recent_contacts(
    uses: Iterable[UseRow],
    subject: Subject,
    day: date,
    *,
    known_by: datetime | None = None,
    windows_d: Iterable[int] = WINDOWS_D,
) -> dict[int, int]:
    """Count the hands-on contacts of a subject in the last days, the day itself included.

    Parameters
    ----------
    uses : iterable of UseRow
    subject : Subject
    day : date
        The last day of each window.
    known_by : datetime, optional
    windows_d : iterable of int
        Lengths of the windows, in days, each at least 1.

    Returns
    -------
    dict of int to int
        Length of the window to contacts in it.

    References
    ----------
    Cumulative load of an individual over 7, 28 and 365 days: house rule of this project; no statute
    gives rest days for behaviour work.
    """
    lengths = tuple(windows_d)
    here = [use for use in uses if use.subject == subject]
    found = loads(here, day, known_by=known_by, windows_d=lengths)
    return found.get(subject, dict.fromkeys(lengths, 0))


def loads(
    uses: Iterable[UseRow],
    day: date,
    *,
    known_by: datetime | None = None,
    windows_d: Iterable[int] = WINDOWS_D,
) -> dict[Subject, dict[int, int]]:
    """Count the recent hands-on contacts of every subject at once; see `recent_contacts`.

    Parameters
    ----------
    uses : iterable of UseRow
    day : date
    known_by : datetime, optional
    windows_d : iterable of int

    Returns
    -------
    dict of Subject to dict of int to int
        Subjects without a contact are left out.
    """
    lengths = tuple(windows_d)
    found: dict[Subject, dict[int, int]] = {}
    for use in standing(uses, AsOf(day, known_by)):
        if not use.is_contact:
            continue
        here = found.setdefault(use.subject, dict.fromkeys(lengths, 0))
        for length in lengths:
            here[length] += use.happened_on > day - timedelta(days=length)
    return found


def line_use(
    line: Kind,
    procedure: int,
    enrolments: Iterable[EnrolmentRow],
    uses: Iterable[UseRow],
    as_of: AsOf = NOW,
) -> LineUse:
    """Give what is used up of a limit line, over every project that its approval covers.

    Parameters
    ----------
    line : Kind
        The line's taxon and stage.
    procedure : int
        The line's procedure.
    enrolments : iterable of EnrolmentRow
        Of all the projects that the approval covers. One counts when it is of the line's kind and
        its project's plan holds the procedure: the place is taken from the first day on.
    uses : iterable of UseRow
        Of all those projects, reversing entries among them.
    as_of : AsOf

    Returns
    -------
    LineUse

    Notes
    -----
    Stages are those in which the animals stand now; the register keeps no earlier stage.
    """
    here = [row for row in enrolments if line.holds(row.kind) and procedure in row.procedures]
    done = [use for use in uses if line.holds(use.kind) and use.procedure == procedure]
    return LineUse(places_taken(here, done, as_of), contacts_of(done, as_of))


def line_use_of_sums(
    line: Kind, procedure: int, enrolments: Iterable[EnrolmentRow], sums: Iterable[UseSum]
) -> LineUse:
    """Give what is used up of a limit line as `line_use` does, from uses that were summed before.

    Parameters
    ----------
    line, procedure, enrolments
        As for `line_use`; everything that is known counts.
    sums : iterable of UseSum
        A database sums a million uses sooner than it hands them out.
    """
    here = [row for row in enrolments if line.holds(row.kind) and procedure in row.procedures]
    lots = places_taken(here, ())
    contacts: dict[Subject, int] = {}
    for one in sums:
        if one.procedure == procedure and line.holds(one.kind):
            lot = lot_of(one.subject, one.enrolment, one.project)
            lots[lot] = max(lots.get(lot, 0), one.most)
            contacts[one.subject] = contacts.get(one.subject, 0) + one.times
    return LineUse(lots, contacts)
