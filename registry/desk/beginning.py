"""What a site needs before its first study runs: each step read from the register, never stored."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.conf import settings
from django.db.models import Count, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, Enclosure, Group, Taxon
from registry.approvals.models import PermissionKind
from registry.desk.models import Vocabulary
from registry.desk.vocabulary import KINDS
from registry.people.models import Body, Induction, Institution, Standing
from registry.permissions import Role, Verb, may
from registry.projects.models import Project, Study
from registry.questions.models import Question
from registry.saying import listed, number_said

type Words = str | Promise

WANTED = (Role.CURATOR, Role.KEEPER, Role.SUPERVISOR, Role.STUDENT, Role.VET, Role.STEWARD)
"""Standings without which the job stops somewhere."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step: what it is for, whether it is done, how it stands, and where it is done.

    Parameters
    ----------
    name, use : str
        What it is, and what it is for.
    is_done : bool
        Whether the register holds it.
    stands : str
        What the register holds of it, in words.
    verb : Verb
        The deed that does it; the button is offered to those who may.
    act, url : str
        What the button says, and the address where it leads.
    who : str
        Who does it, for those who may not.
    seen : str
        The page that shows what is there.
    more : tuple of (str, str, Verb)
        Other ways to do it: what the link says, where it leads, and the deed.
    """

    name: Words
    use: Words
    is_done: bool
    stands: str
    verb: Verb
    act: Words
    url: str
    who: Words
    seen: str = ""
    more: tuple[tuple[Words, str, Verb], ...] = ()
    number: int = 0
    may_do: bool = False


def _counted(number: int, one: str, many: str) -> str:
    return f"{number_said(number)} {one if number == 1 else many}" if number else f"no {many}"


def _institutions() -> Step:
    names = list(Institution.objects.values_list("name", "is_university"))
    missing = [
        said
        for said, is_university in (("the collection", False), ("its partner university", True))
        if is_university not in {kind for _name, kind in names}
    ]
    strange = {settings.SITE_NAME, settings.PARTNER_NAME} - {name for name, _kind in names}
    stands = f"Missing: {listed(missing)}." if missing else f"{len(names)} in the register."
    if strange and not missing:
        stands += (
            f" The head of each page says “{settings.SITE_NAME} with {settings.PARTNER_NAME}”;"
            " whoever runs the machine sets STRANDLINE_SITE_NAME and STRANDLINE_PARTNER_NAME to"
            " the names given here."
        )
    return Step(
        name=_("The collection and its partner"),
        use=_("People, bodies and animals belong to one of them."),
        is_done=not missing,
        stands=stands,
        verb=Verb.INSTITUTION_OPEN,
        act=_("Add an institution"),
        url=reverse("open_institution"),
        who=_("an administrator"),
        seen=reverse("institutions"),
    )


def _people() -> Step:
    rows = Standing.objects.filter(ended_on=None, person__is_active=True, role__in=WANTED)
    held = set(rows.values_list("role", flat=True))
    missing = [role.label for role in WANTED if role not in held]
    return Step(
        name=_("People and their standing"),
        use=_(
            "A person is added first, and gets a letter with a link; standing is given on their "
            "page, with a reason. A second supervisor is needed later, to review plans."
        ),
        is_done=not missing,
        stands=f"Nobody is {listed(missing, 'or')} yet." if missing else "Each standing is held.",
        verb=Verb.PERSON_ADD,
        act=_("Add a person"),
        url=reverse("add_person"),
        who=_("an administrator"),
        seen=reverse("people"),
    )


def _reference() -> Step:
    held = set(Vocabulary.objects.values_list("name", flat=True))
    missing = [kind.title for kind in KINDS if kind.name not in held]
    return Step(
        name=_("Reference data"),
        use=_("Dated lists with their sources: taxa, procedures, kinds of permission, of body."),
        is_done=not missing,
        stands=f"Not loaded: {listed(missing)}." if missing else "All lists are loaded.",
        verb=Verb.VOCABULARY_LOAD,
        act=_("Load the lists"),
        url=reverse("load_reference"),
        who=_("an administrator or a curator"),
        seen=reverse("reference"),
    )


def _bodies() -> Step:
    live = Q(seats__ended_on=None, seats__isnull=False)
    bodies = Body.objects.annotate(
        n=Count("seats", filter=live), chairs=Count("seats", filter=live & Q(seats__is_chair=True))
    )
    lacking = [body for body in bodies if body.n < body.quorum or not body.chairs]
    ready = len(bodies) - len(lacking)
    stands = _counted(ready, "body can decide", "bodies can decide").capitalize() + "."
    if lacking:
        stands += f" Without a chair or a quorum: {listed(lacking)}."
    return Step(
        name=_("Bodies that decide"),
        use=_("They grant or refuse approvals. Each needs a chair, and members for its quorum."),
        is_done=ready > 0 and not lacking,
        stands=stands,
        verb=Verb.BODY_SEAT if lacking else Verb.BODY_OPEN,
        act=_("Seat a member") if lacking else _("Set up a body"),
        url=(
            reverse("body_deed", args=[lacking[0].pk, "seat"]) if lacking else reverse("open_body")
        ),
        who=_("an administrator"),
        seen=reverse("bodies"),
    )


def _enclosures() -> Step:
    number = Enclosure.objects.count()
    return Step(
        name=_("Enclosures"),
        use=_("Where animals live, and where work may take place. A list of animals brings them."),
        is_done=number > 0,
        stands=f"{_counted(number, 'enclosure', 'enclosures').capitalize()}.",
        verb=Verb.ENCLOSURE_OPEN,
        act=_("Open an enclosure"),
        url=reverse("animals:open_enclosure"),
        who=_("a curator"),
        seen=reverse("animals:enclosures"),
        more=(
            (_("Have a list of animals bring them"), reverse("animals:import"), Verb.ANIMAL_IMPORT),
        ),
    )


def _taxa() -> Step:
    number = Taxon.objects.count()
    return Step(
        name=_("Taxa"),
        use=_("Kinds of animal. The reference data bring some; add those that you keep besides."),
        is_done=number > 0,
        stands=f"{_counted(number, 'taxon', 'taxa').capitalize()}.",
        verb=Verb.TAXON_ADD,
        act=_("Add a taxon"),
        url=reverse("animals:add_taxon"),
        who=_("a curator"),
        seen=reverse("animals:taxa"),
    )


def _animals() -> Step:
    animals, groups = Animal.objects.count(), Group.objects.count()
    return Step(
        name=_("Animals"),
        use=_("All at once from a list (CSV), or one by one."),
        is_done=animals + groups > 0,
        stands=(
            f"{_counted(animals, 'animal', 'animals').capitalize()},"
            f" {_counted(groups, 'group', 'groups')}."
        ),
        verb=Verb.ANIMAL_IMPORT,
        act=_("Bring in a list"),
        url=reverse("animals:import"),
        who=_("a curator"),
        seen=reverse("animals:list"),
        more=(
            (_("Receive one animal"), reverse("animals:receive"), Verb.ANIMAL_RECEIVE),
            (_("Receive a group"), reverse("animals:receive_group"), Verb.GROUP_RECEIVE),
        ),
    )


def _permissions() -> Step:
    kinds = PermissionKind.objects.count()
    live = Induction.objects.of_places().filter(expires_on__gte=timezone.localdate()).count()
    return Step(
        name=_("Kinds of permission, and inductions"),
        use=_(
            "A project says which permissions it needs; the kinds come with the reference data. "
            "Whoever works beside a tank needs an induction that holds: record it on their page."
        ),
        is_done=kinds > 0 and live > 0,
        stands=(
            f"{_counted(kinds, 'kind of permission', 'kinds of permission').capitalize()},"
            f" {_counted(live, 'induction that holds', 'inductions that hold')}."
        ),
        verb=Verb.PERSON_INDUCT,
        act=_("Choose whose induction to record"),
        url=f"{reverse('people')}?role={Role.STUDENT}",
        who=_("a curator or a veterinary surgeon"),
        seen=reverse("people"),
    )


def _question() -> Step:
    number = Question.objects.count()
    return Step(
        name=_("The first question"),
        use=_("What someone who looks after animals would like to know. Keepers post it."),
        is_done=number > 0,
        stands=f"{_counted(number, 'question', 'questions').capitalize()}.",
        verb=Verb.QUESTION_POST,
        act=_("Post a question"),
        url=reverse("questions:post"),
        who=_("a keeper, a curator, a veterinary surgeon or a supervisor"),
        seen=reverse("questions:list"),
    )


def _study() -> Step:
    studies, projects = Study.objects.count(), Project.objects.count()
    stands = (
        f"{_counted(studies, 'study', 'studies').capitalize()},"
        f" {_counted(projects, 'project', 'projects')}."
    )
    newest = Study.objects.order_by("-pk").first()
    return Step(
        name=_("The first study and its project"),
        use=_("A study takes questions on and lasts; a project is one cohort’s piece of work."),
        is_done=projects > 0,
        stands=stands,
        verb=Verb.STUDY_OPEN_PROJECT if newest else Verb.STUDY_OPEN,
        act=_("Open a cohort in it") if newest else _("Open a study"),
        url=(
            reverse("projects:study_deed", args=[newest.pk, "open_project"])
            if newest
            else reverse("projects:open")
        ),
        who=_("a supervisor or a curator"),
        seen=reverse("projects:list"),
    )


STEPS: tuple[Callable[[], Step], ...] = (
    _institutions,
    _people,
    _reference,
    _bodies,
    _enclosures,
    _taxa,
    _animals,
    _permissions,
    _question,
    _study,
)
"""In the order in which they are best done."""


def may_begin(person: Any) -> bool:
    """Say whether the steps are this person's to look at: an administrator's or a curator's."""
    return bool({Role.ADMINISTRATOR, Role.CURATOR} & person.roles)


def steps_for(person: Any) -> Iterator[Step]:
    """Yield the steps in order, each with whether this person may do it; a query or two each."""
    for number, step in enumerate(STEPS, start=1):
        found = step()
        yield replace(
            found,
            number=number,
            may_do=may(person, found.verb),
            more=tuple(one for one in found.more if may(person, one[2])),
        )


def is_begun() -> bool:
    """Say whether every step is done, or a plan was accepted already; it stops at the first answer.

    Today asks it each time: of a house in full work one query is enough.
    """
    at_work = Project.objects.exclude(state__in=["drafted", "submitted", "abandoned"])
    return at_work.exists() or all(step().is_done for step in STEPS)
