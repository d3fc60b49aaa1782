"""The yearly report of research in the collection: asked, answered, studied, used, kept, told."""

from collections.abc import Iterable
from datetime import date, datetime, time
from typing import Any

from django.db.models import Count, Q, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.models import Analysis, Version
from registry.animals.models import Animal, Group, Taxon
from registry.answers.models import Answer, HusbandryAction, Output
from registry.answers.reuse import MOST_NAMED, Section, reused, taken_in
from registry.ledger.models import Entry
from registry.oversight.models import Use
from registry.permissions import Part, Verb
from registry.projects.models import Member, Project, Severity, Study
from registry.questions.models import Level, Question


def years() -> list[int]:
    """Give the years of which there is something to tell, the newest first."""
    first = Entry.objects.order_by("number").values_list("at", flat=True).first()
    this = timezone.localdate().year
    return list(range(this, (timezone.localtime(first).year if first else this) - 1, -1))


def report(year: int, *, with_uses: bool) -> list[Section]:
    """Give the report of a calendar year; some fifteen queries, however large the collection.

    `with_uses`: whether the reader may know how animals were used over the whole collection.
    """
    span = (_moment(date(year, 1, 1)), _moment(date(year + 1, 1, 1)))
    running = Project.objects.filter(
        starts_on__lt=date(year + 1, 1, 1), ends_on__gte=date(year, 1, 1)
    ).exclude(state__in=["drafted", "submitted"])
    sections = [_questions(span), _answers(span), _projects(running), _students(running)]
    if with_uses:
        sections += [_uses(span), _severity(span)]
    return [*sections, _data(span), reused(span), _outputs(year), _gaps(), _waiting()]


def _moment(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


def _questions(span: tuple[datetime, datetime]) -> Section:
    said = {
        Verb.QUESTION_POST: _("posted"),
        Verb.QUESTION_TAKE_ON: _("taken on"),
        Verb.QUESTION_ANSWER: _("answered from a study"),
        Verb.QUESTION_ANSWER_FROM_HELD: _("answered from data already held"),
        Verb.QUESTION_RENEW: _("answers updated by a later cohort"),
        Verb.QUESTION_ACKNOWLEDGE: _("acknowledged by the keepers"),
        Verb.QUESTION_QUERY: _("answers queried"),
        Verb.QUESTION_PARK: _("parked"),
        Verb.QUESTION_DECLINE: _("declined"),
        Verb.QUESTION_MERGE: _("merged with another"),
    }
    entries = Entry.objects.filter(verb__in=said, at__gte=span[0], at__lt=span[1])
    counts = dict(entries.order_by().values_list("verb").annotate(n=Count("pk")))
    rows = tuple((words, counts.get(verb, 0)) for verb, words in said.items())
    return Section("questions", _("Questions"), (_("What became of them"), _("Number")), rows)


def _answers(span: tuple[datetime, datetime]) -> Section:
    given = Answer.objects.filter(written_at__gte=span[0], written_at__lt=span[1])
    rows = tuple(
        (str(one.question), str(one.study or _("data already held")), one.summary)
        for one in given.select_related("question", "study").order_by("written_at")[:MOST_NAMED]
    )
    said = HusbandryAction.objects.filter(answer__written_at__gte=span[0])
    sums = said.filter(answer__written_at__lt=span[1]).aggregate(
        all=Count("pk"), done=Count("pk", Q(is_done=True)), left=Count("pk", Q(is_done=False))
    )
    note = _(
        "Of %(all)s changes of husbandry that they suggest %(done)s were made and %(left)s were "
        "decided against."
    ) % {one: sums[one] for one in ("all", "done", "left")}
    heads = (_("Question"), _("From"), _("What was found"))
    return Section("answers", _("What was found"), heads, rows, note)


def _projects(running: Any) -> Section:
    rows = tuple(
        (str(one.study), one.cohort, one.get_level_display(), one.get_state_display())
        for one in running.select_related("study").order_by("study__title", "starts_on")
    )
    heads = (_("Study"), _("Cohort"), _("Level"), _("State today"))
    return Section("projects", _("Studies that ran"), heads, rows)


def _students(running: Any) -> Section:
    counts = dict(
        Member.objects.filter(project__in=running, part=Part.STUDENT)
        .order_by()
        .values_list("project__level")
        .annotate(n=Count("person", distinct=True))
    )
    rows = tuple((label, counts[level]) for level, label in Level.choices if counts.get(level))
    return Section("students", _("Students"), (_("Level"), _("Students")), rows)


def _told(span: tuple[datetime, datetime]) -> Any:
    uses = Use.objects.standing().filter(happened_at__gte=span[0], happened_at__lt=span[1])
    return uses.order_by()


def _uses(span: tuple[datetime, datetime]) -> Section:
    found = (
        _told(span)
        .values_list("procedure__name", "procedure__is_contact")
        .annotate(
            contacts=Sum("number"),
            animals=Count("animal", distinct=True),
            groups=Count("group", distinct=True),
        )
        .order_by("-procedure__is_contact", "procedure__name")
    )
    rows = tuple(
        (name, _("yes") if is_contact else _("no"), contacts, animals, groups)
        for name, is_contact, contacts, animals, groups in found
    )
    heads = (_("Use"), _("Contact"), _("Uses"), _("Animals"), _("Groups"))
    note = _("An animal that was used in two ways counts in both rows.")
    return Section("uses", _("Animals by kind of use"), heads, rows, note)


def _severity(span: tuple[datetime, datetime]) -> Section:
    counts = dict(_told(span).values_list("severity").annotate(n=Sum("number")))
    rows = tuple((label, counts[one]) for one, label in Severity.choices if counts.get(one))
    return Section("severity", _("Actual severity"), (_("Class"), _("Uses")), rows)


def _open(versions: Any) -> int:
    """Count versions whose files are open to everyone today; an embargo ends by itself."""
    ended = Q(access="embargoed", embargoed_until__lte=timezone.localdate())
    count: int = versions.filter(Q(access="open") | ended, state="held").count()
    return count


def _data(span: tuple[datetime, datetime]) -> Section:
    made = {"accepted_at__gte": span[0], "accepted_at__lt": span[1]}
    versions = Version.objects.filter(**made)
    sums = versions.aggregate(n=Count("pk"), rows=Sum("rows"), sets=Count("dataset", distinct=True))
    asked = Analysis.objects.filter(asked_at__gte=span[0], asked_at__lt=span[1])
    answers = Answer.objects.filter(written_at__gte=span[0], written_at__lt=span[1])
    rows = (
        (_("datasets with a new version"), sums["sets"]),
        (_("versions accepted"), sums["n"]),
        (_("rows in them"), sums["rows"] or 0),
        (_("of them open to everyone today"), _open(versions)),
        (_("times that a version was taken away, in whole or in part"), taken_in(span)),
        (_("analyses asked"), asked.count()),
        (_("of them over several cohorts"), asked.filter(sort=Analysis.Sort.COHORTS).count()),
        (_("answers from data that were held already"), answers.filter(study=None).count()),
        (
            _("outputs that rest on held data"),
            Output.objects.listed()
            .filter(published_on__year=span[0].year, versions__isnull=False)
            .distinct()
            .count(),
        ),
    )
    return Section("data", _("Data and their reuse"), (_("What"), _("Number")), rows)


def _outputs(year: int) -> Section:
    found = Output.objects.listed().filter(published_on__year=year).select_related("project__study")
    rows = tuple(
        (one.get_sort_display(), one.title, one.authors, one.where, one.identifier)
        for one in found.order_by("sort", "title")
    )
    heads = (_("Sort"), _("Title"), _("Authors"), _("Where"), _("Identifier"))
    return Section("outputs", _("Outputs"), heads, rows)


def _gaps() -> Section:
    """Give the taxa that are kept and of which little is asked, studied or held."""
    kept = _by_taxon(Animal.objects.filter(state="kept"), "taxon")
    groups = _by_taxon(Group.objects.filter(state="kept"), "taxon")
    asked = _by_taxon(Question.objects.all(), "taxon")
    studied = _by_taxon(Study.objects.all(), "taxon")
    held = _by_taxon(Version.objects.held(), "dataset__project__study__taxon")
    names = Taxon.objects.in_bulk([*{*kept, *groups}])
    found = [
        (one.common_name, *(counts.get(pk, 0) for counts in (kept, groups, asked, studied, held)))
        for pk, one in names.items()
    ]
    rows = tuple(sorted(found, key=lambda row: (row[4], row[3], row[0]))[:MOST_NAMED])
    heads = (
        _("Taxon"),
        _("Animals kept"),
        _("Groups kept"),
        _("Questions"),
        _("Studies"),
        _("Versions held"),
    )
    note = _("As known today; what is least studied stands first.")
    return Section("taxa", _("Gaps by taxon"), heads, rows, note)


def _by_taxon(rows: Any, path: str) -> dict[int, int]:
    """Count rows by taxon; one query."""
    counted = rows.order_by().filter(**{f"{path}__isnull": False}).values_list(path)
    return dict(counted.annotate(n=Count("pk")))


def _waiting() -> Section:
    """Give the questions that wait, the longest first: the gaps by topic."""
    waiting = Question.objects.filter(state__in=["posted", "taken_on", "parked"])
    rows = tuple(
        (str(one), one.animals, one.get_state_display(), one.posted_at.date().isoformat())
        for one in waiting.order_by("posted_at")[:MOST_NAMED]
    )
    heads = (_("Question"), _("Animals"), _("State"), _("Posted"))
    return Section("waiting", _("Gaps by topic: what still waits"), heads, rows)


def long_rows(sections: Iterable[Section]) -> list[list[str]]:
    """Give every cell of the report as a row: section, row, column, value."""
    return [
        [section.name, str(row[0]), head, str(value)]
        for section in sections
        for row in section.rows
        for head, value in zip(section.heads[1:], row[1:], strict=True)
    ]
