"""Whether animals that went through something before may be used again in a project.

The pure rule stands in `rules.reuse`; here it is asked with what the register holds.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db.models import Q

from registry.animals.models import Animal, Group
from registry.approvals.live import live_on
from registry.approvals.models import Approval, ReuseDecision, Screening
from registry.approvals.rules.law import held_from, rules_on
from registry.approvals.rules.reuse import EarlierUse, NextUse, Reuse, reuse
from registry.approvals.screens import jurisdictions_of
from registry.approvals.standing import facts_of
from registry.moments import after
from registry.projects.models import Project, Severity

type Subject = Animal | Group
type Key = tuple[str, int]


def reuse_of(subject: Subject, on: date, project: Project) -> Reuse:
    """Say what using an animal, or a group, in a project from a day on would be."""
    return reuses_of([subject], on, project)[_key(subject)]


def reuses_of(subjects: Sequence[Subject], on: date, project: Project) -> dict[Key, Reuse]:
    """Say it of many, by kind and number; nine queries, however many they are.

    What an animal went through in one other project is one earlier use. It counts where that
    project's screening calls the procedure anything but not regulated, or where nobody screened it
    and more than sub-threshold was reached. Its class is the one given at its end there; while it
    has none, nothing but continued use is allowed. The next use counts as its screening has it;
    while nobody screened it, as was said of the licence, or else by the severity of the plan.
    """
    where = jurisdictions_of([project])[project.pk]
    # Before any edition that is held the oldest stands in: no approval is live on such a day.
    rules = rules_on(where, max(on, held_from(where)))
    earlier = _earlier(subjects, on, project)
    consents = _consents(project, on)
    decided = _decided(subjects, project)
    regulated = _regulated([project])
    is_licensed = _is_licensed(project)
    found = {}
    for one in subjects:
        key = _key(one)
        said = decided.get(key)
        is_named = key[0] == "animal" and any(key[1] in named for _, named in consents)
        answers = [is_so for (_, _, taxon), is_so in regulated.items() if taxon == one.taxon_id]
        then = NextUse(
            project.plan.max_severity,
            is_consented=is_named or any(one.taxon_id in kinds for kinds, _ in consents),
            names_animal=is_named,
            vet_advises=said is not None and said.has_recovered,
            vet_examined=said is not None and said.was_examined,
            is_continued=said is not None and said.is_continued,
            is_regulated=any(answers) if answers else is_licensed,
        )
        found[key] = reuse(earlier[key], then, rules)
    return found


def _key(subject: Subject) -> Key:
    return str(subject.kind), subject.pk


def _regulated(projects: Iterable[Any]) -> dict[tuple[int, int, int], bool]:
    """Give whether each procedure on each taxon counts as regulated, as last screened.

    What was referred and is not answered yet counts as regulated, which is the cautious side.
    """
    rows = Screening.objects.filter(project__in=projects).order_by("pk")
    return {
        (project, procedure, taxon): answer != Screening.Answer.NOT_REGULATED
        for project, procedure, taxon, answer in rows.values_list(
            "project", "procedure", "taxon", "answer"
        )
    }


def _is_licensed(project: Project) -> bool:
    """Say whether a project is said to need a licence; unsaid, by what its plan expects."""
    said = project.needs.filter(permission__code="licence").values_list("is_needed", flat=True)
    needed = said.first()
    return project.plan.max_severity > 0 if needed is None else needed


def _earlier(
    subjects: Sequence[Subject], on: date, project: Project
) -> defaultdict[Key, list[EarlierUse]]:
    """Give what each went through in other projects by the end of a day, one use for each."""
    taxa = {_key(one): one.taxon_id for one in subjects}
    rows = list(_uses(subjects, on, project))
    # With its own, so that it is one query whether there were others or none.
    regulated = _regulated({project.pk, *(row[0] for row in rows)})
    programmes: dict[tuple[Key, int], list[tuple[bool, int, bool, int | None]]] = defaultdict(list)
    for number, animal, group, procedure, severity, enrolment, actual in rows:
        key = ("animal", animal) if animal else ("group", group)
        is_regulated = regulated.get((number, procedure, taxa[key]), severity > 0)
        programmes[key, number].append((is_regulated, severity, enrolment is not None, actual))
    found: defaultdict[Key, list[EarlierUse]] = defaultdict(list)
    for (key, _), uses in programmes.items():
        found[key].append(EarlierUse(_class_of(uses), any(one[0] for one in uses)))
    return found


def _class_of(uses: Sequence[tuple[bool, int, bool, int | None]]) -> int | None:
    """Give the class given at the end; what was never enrolled has that of its worst use."""
    given = [actual for _, _, is_enrolled, actual in uses if is_enrolled]
    if any(one is None for one in given):
        return None
    reached = [actual for actual in given if actual is not None]
    classes = [*reached, *(severity for _, severity, is_enrolled, _ in uses if not is_enrolled)]
    awake = [one for one in classes if one != Severity.NON_RECOVERY]
    return max(awake) if awake else Severity.NON_RECOVERY


def _uses(subjects: Sequence[Subject], on: date, project: Project) -> Any:
    use: Any = Animal._meta.get_field("uses").related_model
    animals = [one.pk for one in subjects if isinstance(one, Animal)]
    groups = [one.pk for one in subjects if isinstance(one, Group)]
    rows = use.objects.standing().filter(
        Q(animal__in=animals) | Q(group__in=groups), happened_at__lt=after(on)
    )
    return (
        rows.exclude(project=project)
        .order_by("pk")
        .values_list(
            "project",
            "animal",
            "group",
            "procedure",
            "severity",
            "enrolment",
            "enrolment__actual_severity",
        )
    )


def _consents(project: Project, on: date) -> list[tuple[set[int], set[int]]]:
    """Give the taxa, and the animals by name, of which live approvals consent to use again."""
    rows = (
        Approval.objects.filter(projects=project)
        .exclude(reuse_consent=Approval.Consent.NONE)
        .prefetch_related("pauses", "limits", "reuse_animals")
    )
    found = []
    for one in rows:
        if live_on(facts_of(one), on):
            is_of_kind = one.reuse_consent == Approval.Consent.KIND
            kinds = {line.taxon_id for line in one.limits.all() if not line.is_dropped}
            named = {animal.pk for animal in one.reuse_animals.all()}
            found.append((kinds if is_of_kind else set(), set() if is_of_kind else named))
    return found


def _decided(subjects: Sequence[Subject], project: Project) -> dict[Key, ReuseDecision]:
    rows = ReuseDecision.objects.filter(project=project).order_by("pk")
    return {
        ("animal", one.animal_id) if one.animal_id else ("group", one.group_id or 0): one
        for one in rows
    }
