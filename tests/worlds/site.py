"""A whole small site: an example of each kind of object, and a person of each standing."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db.models import Model
from django.utils import timezone

from archive.actions import pool_cohorts
from archive.copies.models import Copy, StoreRun
from archive.models import (
    Analysis,
    Dataset,
    Deposit,
    DepositFile,
    Dictionary,
    DictionaryMapping,
    PooledTable,
    Version,
)
from registry.afar.models import Custody, Dossier, News
from registry.animals.models import (
    Animal,
    EggCase,
    Enclosure,
    Group,
    Intake,
    Loan,
    Mark,
    Photograph,
    Restriction,
    Taxon,
)
from registry.answers.models import Answer, Output
from registry.approvals.models import Approval, PermissionKind
from registry.desk.actions import load_vocabulary
from registry.desk.models import Vocabulary
from registry.desk.vocabulary import KINDS, Listed, read_lists
from registry.ledger.models import Entry
from registry.oversight import actions as oversight
from registry.oversight.models import (
    AdverseEvent,
    Audit,
    Booking,
    Breach,
    Concern,
    Enrolment,
    Hold,
    Point,
    RestRule,
    ReturnCategory,
    SampledUse,
    Session,
    TrainingRule,
    Use,
    YearReturn,
)
from registry.people.actions import make_token
from registry.people.models import Body, BodyKind, Institution, Person, Training
from registry.permissions import STANDINGS, Role, Visitor
from registry.projects.models import Allocation, Procedure, Project, Study
from registry.questions.models import Question
from tests.worlds.afar import make_custody, make_dossier, make_news
from tests.worlds.animals import (
    make_animal,
    make_case,
    make_enclosure,
    make_group,
    make_intake,
    make_loan,
    make_restriction,
    make_taxon,
)
from tests.worlds.answers import make_answered, make_output, newest
from tests.worlds.approvals import World, make_asked, make_collecting
from tests.worlds.archive import (
    make_analysis,
    make_dictionary,
    make_like,
    make_mapping,
    make_opened,
    make_pool,
    make_round,
    make_version,
)
from tests.worlds.identity import make_mark, make_photograph
from tests.worlds.oversight import (
    make_breach,
    make_enrolled,
    make_held_session,
    make_requested_booking,
    make_use,
)
from tests.worlds.people import fresh, make_body, make_institution, make_person
from tests.worlds.projects import make_procedure, make_project, make_sealed, make_study
from tests.worlds.questions import make_question

type Examples = dict[type[Model], Model]


@dataclass(frozen=True)
class Site:
    """The examples by kind, and the people by what they are there."""

    examples: Examples
    people: dict[str, Any]

    def __getitem__[M: Model](self, model: type[M]) -> M:
        """Give the example of a kind."""
        found: Any = self.examples[model]
        return found


def make_concern(**more: Any) -> Concern:
    """Give a concern that a keeper raised by name."""
    given: dict[str, Any] = {
        "text": "The ray lay on its back for a minute.",
        "animal": None,
        "project": None,
        "named": None,
        "is_anonymous": False,
        "by": make_person(Role.KEEPER),
        **more,
    }
    concern, _ = oversight.raise_concern(**given)
    return concern


def make_audit() -> Audit:
    """Give an opened audit of a long year."""
    return oversight.open_audit(
        title="Hands-on days",
        scope="All of the year.",
        from_on=date(2026, 1, 1),
        to_on=date(2027, 12, 31),
        by=make_person(Role.AUDITOR),
    )


def make_sampled(world: World) -> SampledUse:
    """Give a use that an audit has yet to look at."""
    make_use(world)
    audit = make_audit()
    oversight.draw_uses(audit, how="no_session", size=1, by=audit.opener)
    return audit.sampled.get()


def make_event(world: World | None = None) -> AdverseEvent:
    """Give an adverse event that a vet has yet to assess."""
    world = world or make_collecting()
    return oversight.report_event(
        world.project,
        sort="distress",
        text="It darted about when the lid was lifted, and calmed down in the dark.",
        happened_at=timezone.now(),
        by=world.student,
    )


def make_return() -> YearReturn:
    """Give the return of a past year in which nothing regulated ended."""
    curator = make_person(Role.CURATOR)
    lists = [one for one in read_lists() if one.kind.name == "return_categories"]
    load_vocabulary(lists, by=curator)
    held = YearReturn.objects.values_list("year", flat=True)
    return oversight.publish_return(year=min([2026, *held]) - 1, by=curator)


def make_rest_rule() -> RestRule:
    """Give a rule of rest so wide that it bars nothing else in the tests."""
    return oversight.set_rest_rule(
        most=50, days=1, why="A trial.", from_on=date(2026, 1, 1), by=make_person(Role.VET)
    )


def make_training_rule() -> TrainingRule:
    """Give a training, new each time, asked for before a procedure that no test does."""
    n = Training.objects.count()
    return oversight.set_training_rule(
        procedure=make_procedure("sedation"),
        training=Training.objects.create(code=f"training-{n}", name=f"training {n}"),
        why="A trial.",
        from_on=date(2026, 1, 1),
        by=make_person(Role.VET),
    )


def make_hold(world: World) -> Hold:
    """Give a hold on the records of the world's project."""
    return oversight.hold_records(
        world.project, why="The regulator asked.", by=make_person(Role.AUDITOR)
    )


def make_point() -> Point:
    """Give a point that a curator is to answer."""
    audit = make_audit()
    return oversight.write_point(
        audit,
        text="Why was this one late?",
        addressee=make_person(Role.CURATOR),
        breach=None,
        by=audit.opener,
    )


def make_vocabulary() -> Vocabulary:
    """Give a list of reference data of its own, of one kind of body."""
    n = Vocabulary.objects.count()
    bodies = next(kind for kind in KINDS if kind.model is BodyKind)
    kind = replace(bodies, name=f"list-{n}")
    row = {"code": f"listed-{n}", "name": "a body", "jurisdiction": "anywhere"}
    listed = Listed(kind, date(2026, 11, 25), "a test", (row,))
    return load_vocabulary([listed], by=make_person(Role.CURATOR))[0]


def make_example(world: World | None = None) -> Examples:
    """Give an example of each kind that has a page, all around one project that collects."""
    world = world or make_collecting()
    enrolment = make_enrolled(world, 1)[0]
    held = make_held_session(world, [enrolment])
    version = make_version(project=world.project)
    question = make_answered(version=version)
    answer = newest(question)
    point = make_point()
    person = fresh(world.student)
    _, token = make_token(person, name="logger", days=3, by=person)
    made: list[Model] = [
        person,
        token,
        world.body,
        world.taxon,
        world.place,
        make_animal(taxon=world.taxon),
        make_group(taxon=world.taxon),
        make_case(taxon=world.taxon),
        make_restriction(make_animal(taxon=world.taxon)),
        make_mark(make_animal(taxon=world.taxon)),
        make_photograph(make_mark(make_animal(taxon=world.taxon))),
        make_loan(make_animal(taxon=world.taxon)),
        make_custody(),
        make_dossier(),
        make_news(),
        question,
        world.project.study,
        world.project,
        make_sealed(),
        world.procedure,
        world.approval,
        world.approval.permission,
        world.body.institution,
        make_vocabulary(),
        BodyKind.objects.all()[0],
        make_intake(),
        make_requested_booking(world),
        enrolment,
        held,
        held.uses.all()[0],
        make_breach(world),
        make_rest_rule(),
        make_training_rule(),
        Training.objects.all()[0],
        make_hold(world),
        make_event(world),
        make_return(),
        ReturnCategory.objects.all()[0],
        make_concern(project=world.project),
        point.audit,
        make_sampled(world),
        point,
        version.dictionary,
        make_like(version.dictionary, by=person),
        pool_cohorts(world.project.study, table="scans", sources=[version], by=person),
        version.dataset,
        make_opened(world.project),
        version,
        make_round(),
        Copy.objects.filter(version=version)[0],
        make_analysis(version),
        DepositFile.objects.filter(deposit__version=version)[0],
        answer,
        make_output(version),
        answer.actions.all()[0],
        Entry.objects.filter(project_number=world.project.pk).order_by("-number")[0],
    ]
    return {type(one): one for one in made if one is not None}


def make_site() -> Site:
    """Give the examples, a person of each standing, those who have a part in it, and a visitor."""
    world = make_collecting()
    examples = make_example(world)
    people: dict[str, Any] = {role.label: make_person(role) for role in STANDINGS}
    people |= {
        "someone without standing": make_person(),
        "its lead supervisor": fresh(world.lead),
        "its student": fresh(world.student),
        "the chair of its body": fresh(world.chair),
        "a visitor": Visitor(),
    }
    return Site(examples, people)


def makers(world: World) -> dict[type[Model], Callable[[], object]]:
    """Say how one more row of each kind is made; each call makes at least one."""
    return {
        Person: make_person,
        Body: make_body,
        Entry: make_question,
        Taxon: lambda: make_taxon(f"Species nova {Taxon.objects.count()}"),
        Enclosure: make_enclosure,
        Animal: make_animal,
        Group: make_group,
        EggCase: make_case,
        Restriction: lambda: make_restriction(make_animal()),
        Question: make_question,
        Procedure: lambda: Procedure.objects.create(
            code=f"procedure-{Procedure.objects.count()}", name="Watching"
        ),
        PermissionKind: lambda: PermissionKind.objects.create(
            code=f"kind-{PermissionKind.objects.count()}", name="A permission"
        ),
        Institution: lambda: make_institution(f"House {Institution.objects.count()}"),
        BodyKind: lambda: BodyKind.objects.create(
            code=f"body-{BodyKind.objects.count()}", name="A body", jurisdiction="anywhere"
        ),
        Vocabulary: make_vocabulary,
        Intake: make_intake,
        Study: make_study,
        Project: make_project,
        Allocation: make_sealed,
        Approval: make_asked,
        Booking: lambda: make_requested_booking(world),
        Enrolment: lambda: make_enrolled(world, 1),
        Session: lambda: make_held_session(world),
        Use: lambda: make_use(world),
        Breach: lambda: make_breach(world),
        RestRule: make_rest_rule,
        TrainingRule: make_training_rule,
        Training: make_training_rule,
        Hold: lambda: make_hold(world),
        AdverseEvent: lambda: make_event(world),
        YearReturn: make_return,
        ReturnCategory: lambda: ReturnCategory.objects.create(
            code=f"category-{ReturnCategory.objects.count()}",
            sort="purpose",
            name="Something else",
            from_year=2021,
        ),
        Concern: make_concern,
        Audit: make_audit,
        Point: make_point,
        SampledUse: lambda: make_sampled(world),
        Dictionary: lambda: make_dictionary(make_study()),
        DictionaryMapping: make_mapping,
        PooledTable: make_pool,
        Dataset: make_opened,
        Deposit: make_opened,
        Version: make_version,
        Copy: make_round,
        StoreRun: make_round,
        Analysis: make_analysis,
        Answer: make_answered,
        Output: make_output,
        Mark: make_mark,
        Photograph: make_photograph,
        Loan: make_loan,
        Custody: make_custody,
        Dossier: make_dossier,
        News: make_news,
    }


DEAR = {
    Analysis,
    Approval,
    Dataset,
    DictionaryMapping,
    PooledTable,
    Deposit,
    Version,
    Answer,
    Session,
    Use,
    Breach,
    Enrolment,
    Output,
}
"""Kinds whose making takes long: a whole project before them, or a check in a child."""
