"""Who may: one table of (verb, roles, scope), asked two ways.

`allowed` filters a list; `require` is the same filter on one row, so the two cannot disagree.
Lifecycle stays out of it: "may you" stands here, "can it now" stands in each lifecycle.
A model that a scope concerns says by `reach` how it is reached:
`reach = {"project": "dataset__project"}`.
"""

from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, ClassVar, Protocol

from django.apps import apps
from django.contrib.auth.models import AnonymousUser
from django.db.models import (
    BooleanField,
    CharField,
    Exists,
    Model,
    OuterRef,
    Q,
    QuerySet,
    TextChoices,
    Value,
)
from django.db.models.functions import Cast, Concat
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import NotPermitted, Unseen


class Role(TextChoices):
    """Site standing, given by an administrator with a reason; and three that nobody gives."""

    KEEPER = "keeper", "keeper"
    CURATOR = "curator", "curator"
    VET = "vet", "veterinary surgeon"
    SUPERVISOR = "supervisor", "supervisor"
    STUDENT = "student", "student"
    STEWARD = "steward", "data steward"
    AUDITOR = "auditor", "auditor"
    ADMINISTRATOR = "administrator", "administrator"
    SIGNED_IN = "signed_in", "anyone signed in"
    PUBLIC = "public", "anyone"
    CLOCK = "clock", "the clock"


STANDINGS = tuple(role for role in Role if role not in {Role.SIGNED_IN, Role.PUBLIC, Role.CLOCK})


class Part(TextChoices):
    """A person's part in a project."""

    LEAD = "lead", "lead supervisor"
    CO_SUPERVISOR = "co_supervisor", "co-supervisor"
    STUDENT = "student", "student"
    OBSERVER = "observer", "observer"


class Visitor(AnonymousUser):
    """Whoever has not signed in: may only what everyone may."""

    roles: ClassVar[frozenset[str]] = frozenset({Role.PUBLIC})
    seats: ClassVar[None] = None
    memberships: ClassVar[None] = None


class Actor(Protocol):
    """What the table needs to know of a person; `roles` holds SIGNED_IN and PUBLIC too."""

    pk: Any
    seats: Any
    memberships: Any

    @property
    def roles(self) -> frozenset[str]:
        """The standings held now."""


class Verb(TextChoices):
    """Every deed and every look, as `kind.verb`."""

    # people
    PERSON_ADD = "person.add", "add a person"
    PERSON_SEE = "person.see", "see people"
    PERSON_DESCRIBE = "person.describe", "change one's own details"
    PERSON_GIVE_STANDING = "person.give_standing", "give standing"
    PERSON_END_STANDING = "person.end_standing", "end standing"
    PERSON_INDUCT = "person.induct", "record an induction"
    PERSON_RESET_SECOND_FACTOR = "person.reset_second_factor", "reset a lost second factor"
    PERSON_STOP = "person.stop", "stop a person signing in"
    PERSON_ADMIT = "person.admit", "let a person sign in again"
    INSTITUTION_OPEN = "institution.open", "add an institution"
    INSTITUTION_SEE = "institution.see", "see institutions"
    INSTITUTION_RENAME = "institution.rename", "rename an institution"
    BODY_OPEN = "body.open", "set up a body that decides"
    BODY_SEE = "body.see", "see bodies"
    BODY_DESCRIBE = "body.describe", "change how a body works"
    BODY_PLAN_MEETING = "body.plan_meeting", "plan a meeting of a body"
    BODY_CALL_OFF = "body.call_off", "call a meeting off"
    BODY_SEAT = "body.seat", "seat a member"
    BODY_UNSEAT = "body.unseat", "end a seat"
    ENTRY_SEE = "entry.see", "read the ledger"
    SITE_SEE = "site.see", "see how the site runs"
    # animals
    TAXON_ADD = "taxon.add", "add a taxon"
    TAXON_SEE = "taxon.see", "see taxa"
    ENCLOSURE_OPEN = "enclosure.open", "open an enclosure"
    ENCLOSURE_SEE = "enclosure.see", "see enclosures"
    ENCLOSURE_NAME_KEEPERS = "enclosure.name_keepers", "say who looks after an enclosure"
    ANIMAL_RECEIVE = "animal.receive", "receive an animal"
    ANIMAL_IMPORT = "animal.import", "bring in animals from a file"
    ANIMAL_SEE = "animal.see", "see animals"
    INTAKE_SEE = "intake.see", "see which files animals came from"
    INTAKE_UNDO = "intake.undo", "undo a list that was brought in"
    ANIMAL_MOVE = "animal.move", "move an animal"
    ANIMAL_LEAVE = "animal.leave", "record a departure or death"
    ANIMAL_MARK = "animal.mark", "record a mark or chip"
    ANIMAL_RESTRICT = "animal.restrict", "keep off this animal"
    ANIMAL_TAKE_BACK = "animal.take_back", "take back the newest event of an animal"
    ANIMAL_UNDO = "animal.undo", "undo an arrival that never was"
    ANIMAL_SEX = "animal.sex", "record the sex of an animal"
    ANIMAL_STAGE = "animal.stage", "record the life stage of an animal"
    ANIMAL_MEASURE = "animal.measure", "record a measure of an animal"
    ANIMAL_SCAN = "animal.scan", "record a scan for pregnancy"
    ANIMAL_BEAR = "animal.bear", "record a birth"
    ANIMAL_NAME_PARENT = "animal.name_parent", "name a parent of an animal"
    ANIMAL_JOIN = "animal.join", "let an animal join a group"
    GROUP_RECEIVE = "group.receive", "receive a counted group"
    GROUP_SEE = "group.see", "see groups"
    GROUP_COUNT = "group.count", "record a change of number"
    GROUP_MOVE = "group.move", "move a group"
    GROUP_LEAVE = "group.leave", "record that a group departed or died out"
    GROUP_RESTRICT = "group.restrict", "keep off this group"
    GROUP_TAKE_BACK = "group.take_back", "take back the newest event of a group"
    GROUP_UNDO = "group.undo", "undo the arrival of a group that never was"
    GROUP_RECOUNT = "group.recount", "count a group anew"
    GROUP_STAGE = "group.stage", "record the life stage of a group"
    GROUP_DRAW = "group.draw", "draw an animal from a group"
    GROUP_SPLIT = "group.split", "split a group"
    GROUP_MERGE = "group.merge", "merge a group into another"
    GROUP_CANDLE = "group.candle", "record how many eggs are fertile"
    GROUP_HATCH = "group.hatch", "record a hatching"
    GROUP_NAME_PARENT = "group.name_parent", "name a parent of a group"
    CASE_RECORD = "case.record", "record an egg case"
    CASE_SEE = "case.see", "see egg cases"
    CASE_CANDLE = "case.candle", "record whether an embryo is fertile"
    CASE_FIND = "case.find", "record another embryo in a case"
    CASE_STAGE = "case.stage", "record the stage of an embryo"
    CASE_HATCH = "case.hatch", "record that an embryo hatched"
    CASE_LOSE = "case.lose", "record that an embryo died"
    CASE_MOVE = "case.move", "move an egg case"
    CASE_NAME_PARENT = "case.name_parent", "name a parent of an egg case or embryo"
    CASE_END = "case.end", "close the record of an egg case"
    ENCLOSURE_ADD_ROUTINE = "enclosure.add_routine", "say what goes on at an enclosure"
    ENCLOSURE_END_ROUTINE = "enclosure.end_routine", "say what goes on there no more"
    CASE_TAKE_BACK = "case.take_back", "take back the newest event of an egg case"
    ENCLOSURE_RESTRICT = "enclosure.restrict", "keep off this enclosure"
    RESTRICTION_SEE = "restriction.see", "see restrictions"
    RESTRICTION_END = "restriction.end", "end a restriction"
    # how animals are told apart
    MARK_SEE = "mark.see", "see marks"
    MARK_REPLACE = "mark.replace", "replace a mark by a newer one"
    MARK_END = "mark.end", "record that a mark is no more"
    MARK_PHOTOGRAPH = "mark.photograph", "add a photograph of a mark"
    MARK_READ = "mark.read", "read a mark as second reader"
    PHOTOGRAPH_SEE = "photograph.see", "see photographs of marks"
    PHOTOGRAPH_WITHDRAW = "photograph.withdraw", "withdraw a photograph"
    # whose they are
    ANIMAL_CHANGE_OWNER = "animal.change_owner", "change the owner of an animal"
    GROUP_CHANGE_OWNER = "group.change_owner", "change the owner of a group"
    ANIMAL_LEND = "animal.lend", "record a loan of an animal"
    GROUP_LEND = "group.lend", "record a loan of a group"
    LOAN_SEE = "loan.see", "see loans and their terms"
    LOAN_END = "loan.end", "end a loan"
    # away and gone
    ANIMAL_GIVE_CUSTODY = "animal.give_custody", "give an animal into a partner’s custody"
    GROUP_GIVE_CUSTODY = "group.give_custody", "give a group into a partner’s custody"
    CASE_GIVE_CUSTODY = "case.give_custody", "give an egg case into a partner’s custody"
    CUSTODY_SEE = "custody.see", "see what is in a partner’s custody"
    CUSTODY_END = "custody.end", "end a custody"
    ANIMAL_WRITE_DOSSIER = "animal.write_dossier", "write the dossier of an animal"
    GROUP_WRITE_DOSSIER = "group.write_dossier", "write the dossier of a group"
    DOSSIER_SEE = "dossier.see", "see dossiers"
    ANIMAL_HEAR_NEWS = "animal.hear_news", "record news of an animal that has left"
    GROUP_HEAR_NEWS = "group.hear_news", "record news of a group that has left"
    NEWS_SEE = "news.see", "see news from afar"
    NEWS_TAKE_BACK = "news.take_back", "take back news that was wrong"
    # questions
    QUESTION_POST = "question.post", "post a question"
    QUESTION_SEE = "question.see", "see questions"
    QUESTION_TAKE_ON = "question.take_on", "take a question on"
    QUESTION_MERGE = "question.merge", "merge into another question"
    QUESTION_ANSWER_FROM_HELD = "question.answer_from_held", "answer from data already held"
    QUESTION_PARK = "question.park", "park a question"
    QUESTION_REOPEN = "question.reopen", "reopen a question"
    QUESTION_DECLINE = "question.decline", "decline a question"
    QUESTION_LIKE = "question.like", "say “I would like this one”"
    QUESTION_UNLIKE = "question.unlike", "take back an interest"
    QUESTION_ANSWER = "question.answer", "write the answer"
    QUESTION_RENEW = "question.renew", "update the answer"
    QUESTION_ACKNOWLEDGE = "question.acknowledge", "acknowledge an answer"
    QUESTION_QUERY = "question.query", "query an answer"
    QUESTION_SEE_INTEREST = "question.see_interest", "see who is interested"
    # projects
    STUDY_OPEN = "study.open", "open a study"
    STUDY_SEE = "study.see", "see studies"
    STUDY_TAKE_QUESTION = "study.take_question", "add a question to a study"
    STUDY_OPEN_PROJECT = "study.open_project", "open a project in a study"
    STUDY_WRITE_DICTIONARY = "study.write_dictionary", "publish a dictionary"
    PROJECT_SEE = "project.see", "see projects"
    PROJECT_SEE_PLAN = "project.see_plan", "read a plan"
    PROJECT_ASSIGN = "project.assign", "assign students and members"
    PROJECT_UNASSIGN = "project.unassign", "end a membership"
    PROJECT_WRITE_PLAN = "project.write_plan", "write the plan"
    PROJECT_ADD_ARM = "project.add_arm", "add a treatment or group to the plan"
    PROJECT_DROP_ARM = "project.drop_arm", "drop a treatment from the plan"
    PROJECT_USE_DESIGN = "project.use_design", "take a sum into the plan"
    PROJECT_DROP_DESIGN = "project.drop_design", "drop a sum from the plan"
    PROJECT_NEED = "project.need", "say which permissions are needed"
    PROJECT_SCREEN = "project.screen", "decide whether a procedure is regulated"
    PROJECT_DECIDE_STAGE = "project.decide_stage", "decide whether an animal is protected"
    PROJECT_DECIDE_REUSE = "project.decide_reuse", "decide on using an animal again"
    PROJECT_SUBMIT = "project.submit", "submit the plan for review"
    PROJECT_RETURN = "project.return", "return the plan for changes"
    PROJECT_ACCEPT = "project.accept", "accept the plan"
    PROJECT_START = "project.start", "start collecting"
    PROJECT_HALT = "project.halt", "halt data collection for welfare"
    PROJECT_RESUME = "project.resume", "lift a halt"
    PROJECT_FINISH = "project.finish", "finish collecting"
    PROJECT_CLOSE = "project.close", "close a project"
    PROJECT_ABANDON = "project.abandon", "abandon a project"
    PROJECT_EXTEND = "project.extend", "open the next cohort"
    PROJECT_SIGN_AGREEMENT = "project.sign_agreement", "sign the data agreement"
    # approvals
    ALLOCATION_SEE = "allocation.see", "see that units were allocated"
    ALLOCATION_SEE_KEY = "allocation.see_key", "read who gets what"
    ALLOCATION_REVEAL = "allocation.reveal", "reveal who got what"
    PROJECT_REQUEST_APPROVAL = "project.request_approval", "request an approval"
    APPROVAL_SEE = "approval.see", "see approvals"
    APPROVAL_COVER = "approval.cover", "cover another project"
    APPROVAL_ADD_LIMIT = "approval.add_limit", "add a limit"
    APPROVAL_DROP_LIMIT = "approval.drop_limit", "drop a limit"
    APPROVAL_WRITE_ITEM = "approval.write_item", "write to an item of the lists"
    APPROVAL_ANSWER_CHANGE = "approval.answer_change", "answer a point to change"
    APPROVAL_COMMENT = "approval.comment", "comment on a request"
    APPROVAL_SUBMIT = "approval.submit", "submit for decision"
    APPROVAL_RETURN = "approval.return", "ask for changes"
    APPROVAL_APPROVE = "approval.approve", "approve"
    APPROVAL_REFUSE = "approval.refuse", "refuse"
    APPROVAL_SUSPEND = "approval.suspend", "suspend"
    APPROVAL_REINSTATE = "approval.reinstate", "reinstate"
    APPROVAL_WITHDRAW = "approval.withdraw", "withdraw"
    APPROVAL_CLOSE = "approval.close", "close"
    APPROVAL_AMEND = "approval.amend", "request an amendment"
    APPROVAL_GIVE_EVIDENCE = "approval.give_evidence", "give evidence for a condition"
    # oversight
    PROJECT_REQUEST_BOOKING = "project.request_booking", "request a booking"
    BOOKING_SEE = "booking.see", "see bookings"
    BOOKING_OFFER = "booking.offer", "offer a booking"
    BOOKING_CONFIRM = "booking.confirm", "confirm a booking"
    BOOKING_REFUSE = "booking.refuse", "refuse a booking"
    BOOKING_RELEASE = "booking.release", "release a booking"
    BOOKING_ENROL = "booking.enrol", "enrol animals"
    ENROLMENT_SEE = "enrolment.see", "see enrolments"
    ENROLMENT_WITHDRAW = "enrolment.withdraw", "withdraw an animal"
    ENROLMENT_DISCHARGE = "enrolment.discharge", "discharge an animal"
    PROJECT_PLAN_SESSION = "project.plan_session", "plan a session"
    PROJECT_PLAN_SCHEDULE = "project.plan_schedule", "plan all sessions of the schedule"
    SESSION_SEE = "session.see", "see sessions"
    SESSION_HOLD = "session.hold", "hold a session"
    SESSION_MISS = "session.miss", "miss a session"
    SESSION_ABANDON = "session.abandon", "abandon a session"
    PROJECT_RECORD_USE = "project.record_use", "record a use of an animal"
    PROJECT_ENTER_USES = "project.enter_uses", "enter the uses that data show"
    USE_SEE = "use.see", "see uses"
    USE_REVERSE = "use.reverse", "reverse a use that was wrongly entered"
    REST_RULE_SEE = "rest_rule.see", "see the rules of rest"
    REST_RULE_SET = "rest_rule.set", "set a rule of rest"
    REST_RULE_END = "rest_rule.end", "end a rule of rest"
    TRAINING_RULE_SEE = "training_rule.see", "see which training procedures ask for"
    TRAINING_RULE_SET = "training_rule.set", "ask for a training before a procedure"
    TRAINING_RULE_END = "training_rule.end", "ask for a training no longer"
    PROJECT_SAY_PURPOSE = "project.say_purpose", "say what regulated work is for"
    ENROLMENT_SAY_ORIGIN = "enrolment.say_origin", "say where an animal was born"
    YEAR_RETURN_SEE = "year_return.see", "see the yearly returns"
    YEAR_RETURN_PUBLISH = "year_return.publish", "publish the return of a year"
    PROJECT_REPORT_EVENT = "project.report_event", "report an adverse event"
    ADVERSE_EVENT_SEE = "adverse_event.see", "see adverse events"
    ADVERSE_EVENT_ASSESS = "adverse_event.assess", "assess an adverse event"
    PROJECT_RECORD_DEVIATION = "project.record_deviation", "record a deviation from the plan"
    PROJECT_LOG_TIME = "project.log_time", "log keeper time"
    BREACH_SEE = "breach.see", "see breaches"
    BREACH_OPEN = "breach.open", "open a breach that data show"
    BREACH_EXPLAIN = "breach.explain", "explain a breach"
    BREACH_QUERY = "breach.query", "query an explanation"
    BREACH_SETTLE = "breach.settle", "settle a breach"
    PROJECT_HOLD_RECORDS = "project.hold_records", "hold all records of a project"
    HOLD_SEE = "hold.see", "see what is held"
    HOLD_LIFT = "hold.lift", "lift a hold"
    CONCERN_RAISE = "concern.raise", "raise a concern"
    CONCERN_SEE = "concern.see", "see a concern"
    CONCERN_FOLLOW = "concern.follow", "answer a question about a concern by its code"
    CONCERN_ASK = "concern.ask", "ask whoever raised a concern"
    CONCERN_REPLY = "concern.reply", "answer a question about one's own concern"
    CONCERN_CHECK = "concern.check", "record a welfare check"
    CONCERN_TAKE_UP = "concern.take_up", "take up a concern"
    CONCERN_RESOLVE = "concern.resolve", "resolve a concern"
    CONCERN_REOPEN = "concern.reopen", "reopen a concern"
    AUDIT_OPEN = "audit.open", "open an audit"
    AUDIT_SEE = "audit.see", "see audits"
    AUDIT_DRAW = "audit.draw", "draw uses to look at"
    SAMPLED_USE_SEE = "sampled_use.see", "see which uses an audit looks at"
    SAMPLED_USE_CONFIRM = "sampled_use.confirm", "confirm a use by its evidence"
    SAMPLED_USE_DOUBT = "sampled_use.doubt", "doubt a use"
    AUDIT_WRITE_POINT = "audit.write_point", "write an audit point"
    POINT_SEE = "point.see", "see audit points"
    POINT_ANSWER = "point.answer", "answer an audit point"
    POINT_SETTLE = "point.settle", "settle an audit point"
    POINT_REOPEN = "point.reopen", "reopen an audit point"
    USE_REVIEW = "use.review", "review animal use over the whole collection"
    # archive
    DICTIONARY_SEE = "dictionary.see", "see dictionaries"
    DICTIONARY_PROPOSE_MAPPING = "dictionary.propose_mapping", "propose a mapping to a dictionary"
    MAPPING_SEE = "mapping.see", "see mappings"
    MAPPING_ACCEPT = "mapping.accept", "accept a mapping"
    MAPPING_DECLINE = "mapping.decline", "decline a mapping"
    MAPPING_WITHDRAW = "mapping.withdraw", "withdraw a mapping"
    STUDY_POOL = "study.pool", "pool the cohorts of a study"
    POOL_SEE = "pool.see", "see a pooled table"
    POOL_DEPOSIT = "pool.deposit", "deposit a pooled table"
    POOL_WITHDRAW = "pool.withdraw", "withdraw a pooled table"
    DATASET_SEE = "dataset.see", "see datasets"
    PROJECT_DEPOSIT = "project.deposit", "open a deposit"
    DEPOSIT_SEE = "deposit.see", "see deposits"
    DEPOSIT_ADD_FILE = "deposit.add_file", "add a file to a deposit"
    DEPOSIT_DROP_FILE = "deposit.drop_file", "drop a file from a deposit"
    DEPOSIT_CONVERT = "deposit.convert", "convert a file of a deposit"
    DEPOSIT_SUBMIT = "deposit.submit", "submit a deposit"
    DEPOSIT_CHECK = "deposit.check", "check a deposit"
    DEPOSIT_CORRECT = "deposit.correct", "correct a deposit"
    DEPOSIT_MEND = "deposit.mend", "have a deposit corrected"
    DEPOSIT_ACCEPT = "deposit.accept", "accept a deposit"
    DEPOSIT_DISCARD = "deposit.discard", "discard a deposit"
    VERSION_SEE = "version.see", "see that a version exists"
    VERSION_READ = "version.read", "read the files of a version"
    VERSION_WITHDRAW = "version.withdraw", "withdraw a version"
    VERSION_REGISTER = "version.register", "add a version's DOI or Handle"
    VERSION_ERASE = "version.erase", "erase a version"
    VERSION_ANALYSE = "version.analyse", "ask an analysis"
    ANALYSIS_SEE = "analysis.see", "see analyses"
    ANALYSIS_COMPUTE = "analysis.compute", "record what an analysis gave"
    ANALYSIS_REFUSE = "analysis.refuse", "record why an analysis gave nothing"
    ANALYSIS_REPEAT = "analysis.repeat", "have an analysis run again"
    ANALYSIS_NAME_SITTING = "analysis.name_sitting", "record whose test of agreement it was"
    ANALYSIS_CONFIRM = "analysis.confirm", "record what it gave again"
    VERSION_COPY = "version.copy", "note a copy of a version"
    COPY_SEE = "copy.see", "see how the copies stand"
    COPY_FIND_DAMAGED = "copy.find_damaged", "record that a copy is damaged"
    COPY_MEND = "copy.mend", "record that a copy was mended"
    STORE_RUN_SEE = "store_run.see", "see the rounds through the copies"
    STORE_RUN_RECORD = "store_run.record", "record a round through the copies"
    # answers
    ANSWER_SEE = "answer.see", "see answers"
    ANSWER_DO_ACTION = "answer.do_action", "say what changed"
    ANSWER_GIVE_ACTION = "answer.give_action", "say who sees to it"
    ANSWER_RELEASE_FIGURE = "answer.release_figure", "show an answer’s figure to everyone"
    ANSWER_WITHHOLD_FIGURE = "answer.withhold_figure", "take an answer’s figure back"
    PROJECT_ADD_OUTPUT = "project.add_output", "add what came out"
    OUTPUT_SEE = "output.see", "see outputs"
    OUTPUT_WITHDRAW = "output.withdraw", "take an output off the list"
    # reference data
    VOCABULARY_LOAD = "vocabulary.load", "load the reference data"
    VOCABULARY_SEE = "vocabulary.see", "see the reference data"


type Reach = Q | bool
type Scope = Callable[[Actor, type[Model]], Reach]


def anywhere(person: Actor, model: type[Model]) -> Reach:
    """Everywhere."""
    return True


def _path(model: type[Model], to: str) -> str | None:
    reach: dict[str, str] = getattr(model, "reach", {})
    return reach.get(to)


@cache
def _leads_to_one(model: type[Model], path: str) -> bool:
    """Say whether each step of a path leads from a row to one other."""
    for name in path.split("__"):
        field = model._meta.get_field(name)
        if not (field.concrete and (field.many_to_one or field.one_to_one)):
            return False
        model = field.related_model  # type: ignore[assignment]
    return True


def _within(model: type[Model], path: str | None, rows: Any) -> Reach:
    """Rows reached by `path`; by a sub-select where a join would double a row."""
    if path is None:
        return False
    if not path or _leads_to_one(model, path):
        return Q(**{f"{path or 'pk'}__in": rows})
    return Q(pk__in=model._default_manager.filter(**{f"{path}__in": rows}).values("pk"))


type Parts = list[tuple[int, str, str]]
"""The projects in which one has a part, with the part and the project's state."""


def knowing_parts[P: Actor](person: P) -> P:
    """Give a person, for one look at many things, whose parts in projects are read once.

    It is a copy, so that no deed and no later look goes by parts that may have changed since.
    """
    known = copy(person)
    live = person.memberships.filter(ended_on=None)
    known.parts_held = list(live.values_list("project", "part", "project__state"))  # type: ignore[attr-defined]
    return known


def projects_of(person: Actor, *parts: str) -> Any:
    """Give the projects in which one has such a part: a sub-select, or a list of those known."""
    held: Parts | None = getattr(person, "parts_held", None)
    if held is not None:
        return [project for project, part, _state in held if part in (parts or {part})]
    mine = person.memberships.filter(ended_on=None)
    return (mine.filter(part__in=parts) if parts else mine).values("project")


def own_project(*parts: str) -> Scope:
    """In a project in which one has such a part."""

    def scope(person: Actor, model: type[Model]) -> Reach:
        return _within(model, _path(model, "project"), projects_of(person, *parts))

    scope.__doc__ = "own project" + (
        f" ({', '.join(Part(p).label for p in parts)})" if parts else ""
    )
    return scope


def own_body(person: Actor, model: type[Model]) -> Reach:
    """In a body of which one is a member."""
    mine = person.seats.filter(ended_on=None).values("body")
    return _within(model, _path(model, "body"), mine)


def own_chair(person: Actor, model: type[Model]) -> Reach:
    """In a body that one chairs."""
    mine = person.seats.filter(ended_on=None, is_chair=True).values("body")
    return _within(model, _path(model, "body"), mine)


def chairs_a_body(person: Actor, model: type[Model]) -> Reach:
    """Anywhere, as chair of an ethics body."""
    return bool(person.seats.filter(ended_on=None, is_chair=True, body__is_ethics=True).exists())


def own_key(person: Actor, model: type[Model]) -> Reach:
    """As a keyholder whom the plan names."""
    return _within(model, _path(model, "keyholder"), [person.pk])


def oneself(person: Actor, model: type[Model]) -> Reach:
    """Oneself."""
    return Q(pk=person.pk)


def has_second_factor(person: Actor, model: type[Model]) -> Reach:
    """Someone who has a second factor."""
    return Q(second_factor_on__isnull=False)


def own(field: str) -> Scope:
    """What one made, asked for or was given, by the name in `reach`."""

    def scope(person: Actor, model: type[Model]) -> Reach:
        path = _path(model, field)
        return Q(**{path: person.pk}) if path else False

    scope.__doc__ = f"own ({field})"
    return scope


def where(**facts: Any) -> Scope:
    """Rows of which these facts hold."""

    def scope(person: Actor, model: type[Model]) -> Reach:
        return Q(**facts)

    said = ", ".join(f"{key} is {value}" for key, value in facts.items())
    scope.__doc__ = said.replace("__", " ").replace("_", " ")
    return scope


def except_for(inner: Scope) -> Scope:
    """Not where the other scope reaches."""

    def scope(person: Actor, model: type[Model]) -> Reach:
        reached = inner(person, model)
        return not reached if isinstance(reached, bool) else ~reached

    scope.__doc__ = f"never {inner.__doc__ or ''}".strip().rstrip(".").lower()
    return scope


def both(*scopes: Scope) -> Scope:
    """Where all the scopes reach."""

    def scope(person: Actor, model: type[Model]) -> Reach:
        together: Reach = True
        for one in scopes:
            reached = one(person, model)
            if reached is False or together is False:
                return False
            if reached is True:
                continue
            together = reached if together is True else together & reached
        return together

    scope.__doc__ = ", ".join((one.__doc__ or "").strip().rstrip(".").lower() for one in scopes)
    return scope


def about(label: str, verb: Verb) -> Scope:
    """Entries about those objects of one kind on which one may do the verb."""

    def scope(person: Actor, model: type[Model]) -> Reach:
        kind = apps.get_model(label)
        reached = reach(kind, person, verb)
        if reached is False:
            return False
        rows = kind._default_manager.order_by()
        if reached is not True:
            rows = rows.filter(reached)
        said = Concat(Value(f"{label}:"), Cast("pk", CharField()))
        return Q(subject__in=rows.values_list(said, flat=True))

    kind, done = verb.split(".")
    scope.__doc__ = f"about each {kind} that one may {done.replace('_', ' ')}"
    return scope


def sources_open(person: Actor, model: type[Model]) -> Reach:
    """Where one may read what it was made of."""
    path = _path(model, "sources")
    versions = apps.get_model("archive.version")._default_manager
    reached = [scope(person, versions.model) for roles, scope in _READERS if roles & person.roles]
    readable = Q() if True in reached else Q(pk__in=[])
    for one in reached:
        readable |= one if isinstance(one, Q) else Q(pk__in=[])
    # A source that a better version replaced is closed to new readers, not to what was made of it.
    stood = Q(state="held") | Q(state="withdrawn", ground__in=["faulty", "superseded"])
    closed = versions.exclude(readable & stood).order_by().values("pk")
    made = model._default_manager.filter(**{f"{path}__in": closed})
    return ~Q(pk__in=made.order_by().values("pk"))


def released(person: Actor, model: type[Model]) -> Reach:
    """Open, or embargoed until a day that has passed."""
    today: date = timezone.localdate()
    return Q(access="open") | Q(access="embargoed", embargoed_until__lte=today)


def of_released_data(person: Actor, model: type[Model]) -> Reach:
    """Of data that are all held and open, or embargoed until a day that has passed."""
    versions = apps.get_model("archive.version")._default_manager
    is_open = released(person, versions.model)
    assert not isinstance(is_open, bool)
    closed = versions.exclude(is_open & Q(state="held")).values("pk")
    behind = model._default_manager.filter(sources__in=closed).values("pk")
    return ~Q(pk__in=behind)


@dataclass(frozen=True)
class Row:
    """One row of the table: these roles may do this verb within this scope."""

    verb: Verb
    roles: frozenset[Role]
    scope: Scope


def _rows(verb: Verb, roles: Iterable[Role], scope: Scope = anywhere) -> Row:
    return Row(verb, frozenset(roles), scope)


_ALL = {Role.SIGNED_IN}
_STAFF = {Role.KEEPER, Role.CURATOR, Role.VET, Role.SUPERVISOR, Role.STEWARD, Role.AUDITOR}
_STAFF_AND_ADMIN = _STAFF | {Role.ADMINISTRATOR}
_LEAD = own_project(Part.LEAD)
_MEMBER = own_project()
_DOERS = own_project(Part.LEAD, Part.CO_SUPERVISOR, Part.STUDENT)
_NOT_OWN = except_for(own_project())
_REVEALED = where(state="revealed")
_ANOTHER = both(except_for(oneself), where(is_system=False))
V = Verb
R = Role
_READERS: tuple[tuple[set[Role], Scope], ...] = (
    ({R.PUBLIC}, released),
    ({R.STEWARD, R.CURATOR, R.AUDITOR}, anywhere),
    (_ALL, _MEMBER),
)
"""Who may read the files of a version that is held, each where."""

TABLE: tuple[Row, ...] = (
    # people
    _rows(V.PERSON_ADD, {R.ADMINISTRATOR, R.CLOCK}),
    _rows(V.PERSON_SEE, _STAFF_AND_ADMIN),
    _rows(V.PERSON_SEE, _ALL, oneself),
    _rows(V.PERSON_DESCRIBE, _ALL, oneself),
    _rows(V.PERSON_GIVE_STANDING, {R.ADMINISTRATOR}, except_for(oneself)),
    _rows(V.PERSON_GIVE_STANDING, {R.CLOCK}),
    _rows(V.PERSON_END_STANDING, {R.ADMINISTRATOR}, except_for(oneself)),
    _rows(V.PERSON_INDUCT, {R.CURATOR, R.VET}, except_for(oneself)),
    _rows(V.PERSON_RESET_SECOND_FACTOR, {R.ADMINISTRATOR}, both(_ANOTHER, has_second_factor)),
    _rows(V.PERSON_STOP, {R.ADMINISTRATOR}, both(_ANOTHER, where(is_active=True))),
    _rows(V.PERSON_ADMIT, {R.ADMINISTRATOR}, both(_ANOTHER, where(is_active=False))),
    _rows(V.INSTITUTION_OPEN, {R.ADMINISTRATOR, R.CLOCK}),
    _rows(V.INSTITUTION_SEE, _ALL),
    _rows(V.INSTITUTION_RENAME, {R.ADMINISTRATOR}),
    _rows(V.BODY_OPEN, {R.ADMINISTRATOR}),
    _rows(V.BODY_SEE, _ALL),
    _rows(V.BODY_DESCRIBE, {R.ADMINISTRATOR}),
    _rows(V.BODY_PLAN_MEETING, {R.ADMINISTRATOR}),
    _rows(V.BODY_PLAN_MEETING, _ALL, own_chair),
    _rows(V.BODY_CALL_OFF, {R.ADMINISTRATOR}),
    _rows(V.BODY_CALL_OFF, _ALL, own_chair),
    _rows(V.BODY_SEAT, {R.ADMINISTRATOR}),
    _rows(V.BODY_UNSEAT, {R.ADMINISTRATOR}),
    _rows(V.ENTRY_SEE, _STAFF_AND_ADMIN, where(is_confidential=False)),
    _rows(V.ENTRY_SEE, _ALL, both(_MEMBER, where(is_confidential=False))),
    _rows(V.ENTRY_SEE, _ALL, both(own("actor"), where(is_confidential=False))),
    # Whoever handles a concern, and is not named in it, may reopen it too.
    _rows(V.ENTRY_SEE, _ALL, about("oversight.concern", V.CONCERN_REOPEN)),
    _rows(V.SITE_SEE, {R.ADMINISTRATOR}),
    # animals
    _rows(V.TAXON_ADD, {R.CURATOR}),
    _rows(V.TAXON_SEE, _ALL),
    _rows(V.ENCLOSURE_OPEN, {R.CURATOR}),
    _rows(V.ENCLOSURE_SEE, _ALL),
    _rows(V.ENCLOSURE_ADD_ROUTINE, {R.KEEPER, R.CURATOR}),
    _rows(V.ENCLOSURE_END_ROUTINE, {R.KEEPER, R.CURATOR}),
    _rows(V.ENCLOSURE_NAME_KEEPERS, {R.CURATOR}),
    _rows(V.ENCLOSURE_RESTRICT, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.ANIMAL_RECEIVE, {R.CURATOR}),
    _rows(V.ANIMAL_IMPORT, {R.CURATOR}),
    _rows(V.ANIMAL_SEE, _ALL),
    _rows(V.INTAKE_SEE, _ALL),
    _rows(V.INTAKE_UNDO, {R.CURATOR}),
    _rows(V.ANIMAL_MOVE, {R.KEEPER, R.CURATOR}),
    _rows(V.ANIMAL_LEAVE, {R.CURATOR, R.VET}),
    _rows(V.ANIMAL_MARK, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.ANIMAL_RESTRICT, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.ANIMAL_TAKE_BACK, {R.CURATOR}),
    _rows(V.ANIMAL_UNDO, {R.CURATOR}),
    _rows(V.ANIMAL_SEX, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.ANIMAL_STAGE, {R.KEEPER, R.CURATOR}),
    _rows(V.ANIMAL_MEASURE, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.ANIMAL_SCAN, {R.CURATOR, R.VET}),
    _rows(V.ANIMAL_BEAR, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.ANIMAL_NAME_PARENT, {R.CURATOR}),
    _rows(V.ANIMAL_JOIN, {R.CURATOR}),
    _rows(V.GROUP_RECEIVE, {R.CURATOR}),
    _rows(V.GROUP_SEE, _ALL),
    _rows(V.GROUP_COUNT, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_MOVE, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_LEAVE, {R.CURATOR, R.VET}),
    _rows(V.GROUP_RESTRICT, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.GROUP_TAKE_BACK, {R.CURATOR}),
    _rows(V.GROUP_UNDO, {R.CURATOR}),
    _rows(V.GROUP_RECOUNT, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_STAGE, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_DRAW, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_SPLIT, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_MERGE, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_CANDLE, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_HATCH, {R.KEEPER, R.CURATOR}),
    _rows(V.GROUP_NAME_PARENT, {R.CURATOR}),
    _rows(V.CASE_RECORD, {R.KEEPER, R.CURATOR}),
    _rows(V.CASE_SEE, _ALL),
    _rows(V.CASE_CANDLE, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.CASE_FIND, {R.KEEPER, R.CURATOR}),
    _rows(V.CASE_STAGE, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.CASE_HATCH, {R.KEEPER, R.CURATOR}),
    _rows(V.CASE_LOSE, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.CASE_MOVE, {R.KEEPER, R.CURATOR}),
    _rows(V.CASE_NAME_PARENT, {R.CURATOR}),
    _rows(V.CASE_END, {R.KEEPER, R.CURATOR}),
    _rows(V.CASE_TAKE_BACK, {R.CURATOR}),
    _rows(V.RESTRICTION_SEE, _ALL),
    _rows(V.RESTRICTION_END, {R.VET}),
    _rows(
        V.RESTRICTION_END,
        {R.CURATOR},
        both(
            where(strength__in=["bars_all", "observation_only"]),
            except_for(where(sort="quarantine")),
        ),
    ),
    # how animals are told apart
    _rows(V.MARK_SEE, _ALL),
    _rows(V.MARK_REPLACE, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.MARK_END, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.MARK_PHOTOGRAPH, {R.KEEPER, R.CURATOR, R.VET, R.SUPERVISOR, R.STUDENT}),
    _rows(V.MARK_READ, {R.KEEPER, R.CURATOR, R.VET, R.SUPERVISOR, R.STUDENT}),
    _rows(V.PHOTOGRAPH_SEE, _ALL),
    _rows(V.PHOTOGRAPH_WITHDRAW, {R.CURATOR}),
    # whose they are
    _rows(V.ANIMAL_CHANGE_OWNER, {R.CURATOR}),
    _rows(V.GROUP_CHANGE_OWNER, {R.CURATOR}),
    _rows(V.ANIMAL_LEND, {R.CURATOR}),
    _rows(V.GROUP_LEND, {R.CURATOR}),
    _rows(V.LOAN_SEE, _STAFF),
    _rows(V.LOAN_END, {R.CURATOR}),
    # away and gone
    _rows(V.ANIMAL_GIVE_CUSTODY, {R.CURATOR}),
    _rows(V.GROUP_GIVE_CUSTODY, {R.CURATOR}),
    _rows(V.CASE_GIVE_CUSTODY, {R.CURATOR}),
    _rows(V.CUSTODY_SEE, _ALL),
    _rows(V.CUSTODY_END, {R.KEEPER, R.CURATOR}),
    _rows(V.ANIMAL_WRITE_DOSSIER, {R.CURATOR, R.VET}),
    _rows(V.GROUP_WRITE_DOSSIER, {R.CURATOR, R.VET}),
    _rows(V.DOSSIER_SEE, _STAFF),  # it tells of every use, as only they may read
    _rows(V.ANIMAL_HEAR_NEWS, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.GROUP_HEAR_NEWS, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.NEWS_SEE, _ALL),
    _rows(V.NEWS_TAKE_BACK, {R.CURATOR}),
    # questions
    _rows(V.QUESTION_POST, {R.KEEPER, R.CURATOR, R.VET, R.SUPERVISOR}),
    _rows(V.QUESTION_SEE, _ALL),
    _rows(V.QUESTION_TAKE_ON, {R.CURATOR}),
    _rows(V.QUESTION_MERGE, {R.CURATOR}),
    _rows(V.QUESTION_ANSWER_FROM_HELD, {R.CURATOR}),
    _rows(V.QUESTION_PARK, {R.CURATOR}),
    _rows(V.QUESTION_REOPEN, {R.CURATOR}),
    _rows(V.QUESTION_DECLINE, {R.CURATOR}),
    _rows(V.QUESTION_LIKE, {R.STUDENT}),
    _rows(V.QUESTION_UNLIKE, {R.STUDENT}),
    _rows(V.QUESTION_SEE_INTEREST, {R.SUPERVISOR, R.CURATOR}),
    _rows(V.QUESTION_ANSWER, _ALL, _LEAD),
    _rows(V.QUESTION_RENEW, _ALL, _LEAD),
    _rows(V.QUESTION_ACKNOWLEDGE, _ALL, own("asker")),
    _rows(V.QUESTION_ACKNOWLEDGE, {R.KEEPER, R.CURATOR}),
    _rows(V.QUESTION_QUERY, _ALL, own("asker")),
    _rows(V.QUESTION_QUERY, {R.KEEPER, R.CURATOR}),
    # projects
    _rows(V.STUDY_OPEN, {R.SUPERVISOR, R.CURATOR}),
    _rows(V.STUDY_SEE, _ALL),
    _rows(V.STUDY_TAKE_QUESTION, {R.SUPERVISOR, R.CURATOR}),
    _rows(V.STUDY_OPEN_PROJECT, {R.SUPERVISOR, R.CURATOR}),
    _rows(V.STUDY_WRITE_DICTIONARY, _ALL, _LEAD),
    _rows(V.STUDY_WRITE_DICTIONARY, {R.STEWARD}),
    _rows(V.PROJECT_SEE, _ALL),
    _rows(V.PROJECT_SEE_PLAN, _STAFF),
    _rows(V.PROJECT_SEE_PLAN, _ALL, _MEMBER),
    _rows(V.PROJECT_SEE_PLAN, _ALL, own_body),
    _rows(V.PROJECT_ASSIGN, _ALL, _LEAD),
    _rows(V.PROJECT_ASSIGN, {R.CURATOR}),
    _rows(V.PROJECT_UNASSIGN, _ALL, _LEAD),
    _rows(V.PROJECT_UNASSIGN, {R.CURATOR}),
    _rows(V.PROJECT_WRITE_PLAN, _ALL, _DOERS),
    _rows(V.PROJECT_ADD_ARM, _ALL, _DOERS),
    _rows(V.PROJECT_DROP_ARM, _ALL, _DOERS),
    _rows(V.PROJECT_USE_DESIGN, _ALL, _DOERS),
    _rows(V.PROJECT_DROP_DESIGN, _ALL, _DOERS),
    _rows(V.PROJECT_NEED, _ALL, _LEAD),
    _rows(V.PROJECT_NEED, {R.CURATOR}),
    _rows(V.PROJECT_SCREEN, {R.VET}, _NOT_OWN),
    _rows(V.PROJECT_SCREEN, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.PROJECT_DECIDE_STAGE, {R.VET}, _NOT_OWN),
    _rows(V.PROJECT_DECIDE_STAGE, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.PROJECT_DECIDE_REUSE, {R.VET}, _NOT_OWN),
    _rows(V.PROJECT_SUBMIT, _ALL, _LEAD),
    _rows(V.PROJECT_RETURN, {R.SUPERVISOR}, _NOT_OWN),
    _rows(V.PROJECT_ACCEPT, {R.SUPERVISOR}, _NOT_OWN),
    _rows(V.PROJECT_START, _ALL, _LEAD),
    _rows(V.PROJECT_HALT, _ALL),
    _rows(V.PROJECT_RESUME, {R.VET}, _NOT_OWN),
    _rows(V.PROJECT_RESUME, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.PROJECT_FINISH, _ALL, _LEAD),
    _rows(V.PROJECT_CLOSE, _ALL, _LEAD),
    _rows(V.PROJECT_ABANDON, _ALL, _LEAD),
    _rows(V.PROJECT_ABANDON, {R.CURATOR}),
    _rows(V.PROJECT_EXTEND, _ALL, _LEAD),
    _rows(V.PROJECT_EXTEND, {R.SUPERVISOR, R.CURATOR}),
    _rows(V.PROJECT_SIGN_AGREEMENT, _ALL, own_project(Part.STUDENT)),
    # approvals
    _rows(V.ALLOCATION_SEE, _STAFF),
    _rows(V.ALLOCATION_SEE, _ALL, _MEMBER),
    _rows(V.ALLOCATION_SEE, _ALL, own_body),
    _rows(V.ALLOCATION_SEE, _ALL, own_key),
    _rows(V.ALLOCATION_SEE_KEY, _ALL, own_key),
    _rows(V.ALLOCATION_SEE_KEY, _STAFF, _REVEALED),
    _rows(V.ALLOCATION_SEE_KEY, _ALL, both(_MEMBER, _REVEALED)),
    _rows(V.ALLOCATION_SEE_KEY, _ALL, both(own_body, _REVEALED)),
    _rows(V.ALLOCATION_REVEAL, _ALL, _LEAD),
    _rows(V.ALLOCATION_REVEAL, {R.VET}),
    _rows(V.PROJECT_REQUEST_APPROVAL, _ALL, _LEAD),
    _rows(V.APPROVAL_SEE, _STAFF),
    _rows(V.APPROVAL_SEE, _ALL, _MEMBER),
    _rows(V.APPROVAL_SEE, _ALL, own_body),
    _rows(V.APPROVAL_COVER, _ALL, _LEAD),
    _rows(V.APPROVAL_ADD_LIMIT, _ALL, _LEAD),
    _rows(V.APPROVAL_DROP_LIMIT, _ALL, _LEAD),
    _rows(V.APPROVAL_WRITE_ITEM, _ALL, _LEAD),
    _rows(V.APPROVAL_ANSWER_CHANGE, _ALL, _LEAD),
    _rows(V.APPROVAL_COMMENT, _STAFF),
    _rows(V.APPROVAL_COMMENT, _ALL, _MEMBER),
    _rows(V.APPROVAL_COMMENT, _ALL, own_body),
    _rows(V.APPROVAL_SUBMIT, _ALL, _LEAD),
    _rows(V.APPROVAL_RETURN, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.APPROVAL_APPROVE, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.APPROVAL_REFUSE, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.APPROVAL_SUSPEND, {R.VET}),
    _rows(V.APPROVAL_SUSPEND, _ALL, own_chair),
    _rows(V.APPROVAL_REINSTATE, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.APPROVAL_WITHDRAW, _ALL, _LEAD),
    _rows(V.APPROVAL_WITHDRAW, _ALL, own_chair),
    _rows(V.APPROVAL_CLOSE, _ALL, _LEAD),
    _rows(V.APPROVAL_CLOSE, _ALL, own_chair),
    _rows(V.APPROVAL_AMEND, _ALL, _LEAD),
    _rows(V.APPROVAL_GIVE_EVIDENCE, _ALL, _LEAD),
    # oversight
    _rows(V.PROJECT_REQUEST_BOOKING, _ALL, _DOERS),
    _rows(V.BOOKING_SEE, _STAFF),
    _rows(V.BOOKING_SEE, _ALL, _MEMBER),
    _rows(V.BOOKING_OFFER, {R.CURATOR}),
    _rows(V.BOOKING_CONFIRM, {R.CURATOR}),
    _rows(V.BOOKING_REFUSE, {R.CURATOR}),
    _rows(V.BOOKING_RELEASE, {R.CURATOR}),
    _rows(V.BOOKING_RELEASE, _ALL, _LEAD),
    _rows(V.BOOKING_ENROL, _ALL, _DOERS),
    _rows(V.ENROLMENT_SEE, _STAFF),
    _rows(V.ENROLMENT_SEE, _ALL, _MEMBER),
    _rows(V.ENROLMENT_WITHDRAW, _ALL, _DOERS),
    _rows(V.ENROLMENT_WITHDRAW, {R.VET, R.CURATOR}),
    _rows(V.ENROLMENT_DISCHARGE, _ALL, _DOERS),
    _rows(V.PROJECT_PLAN_SESSION, _ALL, _DOERS),
    _rows(V.PROJECT_PLAN_SCHEDULE, _ALL, _DOERS),
    _rows(V.SESSION_SEE, _STAFF),
    _rows(V.SESSION_SEE, _ALL, _MEMBER),
    _rows(V.SESSION_HOLD, _ALL, _DOERS),
    _rows(V.SESSION_MISS, _ALL, _DOERS),
    _rows(V.SESSION_ABANDON, _ALL, _DOERS),
    _rows(V.PROJECT_RECORD_USE, _ALL, _DOERS),
    _rows(V.PROJECT_ENTER_USES, _ALL, _DOERS),
    _rows(V.USE_SEE, _STAFF),
    _rows(V.USE_SEE, _ALL, _MEMBER),
    _rows(V.USE_REVERSE, _ALL, _DOERS),
    _rows(V.USE_REVIEW, {R.AUDITOR, R.CURATOR, R.VET}),
    _rows(V.REST_RULE_SEE, _ALL),
    _rows(V.REST_RULE_SET, {R.CURATOR, R.VET}),
    _rows(V.REST_RULE_END, {R.CURATOR, R.VET}),
    _rows(V.TRAINING_RULE_SEE, _ALL),
    _rows(V.TRAINING_RULE_SET, {R.CURATOR, R.VET}),
    _rows(V.TRAINING_RULE_END, {R.CURATOR, R.VET}),
    _rows(V.PROJECT_SAY_PURPOSE, {R.CURATOR}),
    _rows(V.PROJECT_SAY_PURPOSE, _ALL, _LEAD),
    _rows(V.ENROLMENT_SAY_ORIGIN, {R.CURATOR}),
    _rows(V.ENROLMENT_SAY_ORIGIN, _ALL, _DOERS),
    _rows(V.YEAR_RETURN_SEE, _STAFF_AND_ADMIN),
    _rows(V.YEAR_RETURN_PUBLISH, {R.CURATOR}),
    _rows(V.PROJECT_REPORT_EVENT, {R.KEEPER, R.CURATOR, R.VET}),
    _rows(V.PROJECT_REPORT_EVENT, _ALL, _MEMBER),
    _rows(V.ADVERSE_EVENT_SEE, _STAFF),
    _rows(V.ADVERSE_EVENT_SEE, _ALL, _MEMBER),
    _rows(V.ADVERSE_EVENT_SEE, _ALL, own_body),
    _rows(V.ADVERSE_EVENT_ASSESS, {R.VET}, _NOT_OWN),
    _rows(V.PROJECT_RECORD_DEVIATION, _ALL, _DOERS),
    _rows(V.PROJECT_LOG_TIME, {R.KEEPER, R.CURATOR}),
    _rows(V.PROJECT_LOG_TIME, _ALL, _DOERS),
    _rows(V.BREACH_SEE, _STAFF),
    _rows(V.BREACH_SEE, _ALL, _MEMBER),
    _rows(V.BREACH_SEE, _ALL, own_body),
    _rows(V.BREACH_OPEN, {R.CLOCK}),
    _rows(V.BREACH_EXPLAIN, _ALL, _LEAD),
    _rows(V.BREACH_QUERY, {R.AUDITOR}, _NOT_OWN),
    _rows(V.BREACH_QUERY, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.BREACH_SETTLE, {R.AUDITOR}, _NOT_OWN),
    _rows(V.BREACH_SETTLE, _ALL, both(own_chair, _NOT_OWN)),
    _rows(V.PROJECT_HOLD_RECORDS, {R.AUDITOR, R.CURATOR, R.STEWARD}),
    _rows(V.HOLD_SEE, _STAFF_AND_ADMIN),
    _rows(V.HOLD_LIFT, {R.AUDITOR}),
    _rows(V.CONCERN_RAISE, {R.PUBLIC}),
    _rows(V.CONCERN_SEE, {R.VET, R.AUDITOR}, except_for(own("named"))),
    _rows(V.CONCERN_SEE, _ALL, both(chairs_a_body, except_for(own("named")))),
    _rows(V.CONCERN_SEE, _ALL, own("raiser")),
    _rows(V.CONCERN_FOLLOW, {R.PUBLIC}),
    _rows(V.CONCERN_ASK, {R.VET}, except_for(own("named"))),
    _rows(V.CONCERN_ASK, _ALL, both(chairs_a_body, except_for(own("named")))),
    _rows(V.CONCERN_REPLY, _ALL, own("raiser")),
    _rows(V.CONCERN_CHECK, {R.VET}, except_for(own("named"))),
    _rows(V.CONCERN_CHECK, _ALL, both(chairs_a_body, except_for(own("named")))),
    _rows(V.CONCERN_TAKE_UP, {R.VET}, except_for(own("named"))),
    _rows(V.CONCERN_TAKE_UP, _ALL, both(chairs_a_body, except_for(own("named")))),
    _rows(V.CONCERN_RESOLVE, {R.VET}, except_for(own("named"))),
    _rows(V.CONCERN_RESOLVE, _ALL, both(chairs_a_body, except_for(own("named")))),
    _rows(V.CONCERN_REOPEN, {R.VET, R.AUDITOR}, except_for(own("named"))),
    _rows(V.CONCERN_REOPEN, _ALL, both(chairs_a_body, except_for(own("named")))),
    _rows(V.AUDIT_OPEN, {R.AUDITOR}),
    _rows(V.AUDIT_SEE, _STAFF_AND_ADMIN),
    _rows(V.AUDIT_DRAW, {R.AUDITOR}, own("opener")),
    _rows(V.SAMPLED_USE_SEE, _STAFF),
    _rows(V.SAMPLED_USE_CONFIRM, {R.AUDITOR}, own("opener")),
    _rows(V.SAMPLED_USE_DOUBT, {R.AUDITOR}, own("opener")),
    _rows(V.AUDIT_WRITE_POINT, {R.AUDITOR}, own("opener")),
    _rows(V.POINT_SEE, _STAFF_AND_ADMIN),
    _rows(V.POINT_SEE, _ALL, own("addressee")),
    _rows(V.POINT_ANSWER, _ALL, own("addressee")),
    _rows(V.POINT_SETTLE, {R.AUDITOR}),
    _rows(V.POINT_REOPEN, {R.AUDITOR}),
    # archive
    _rows(V.DICTIONARY_SEE, _ALL),
    _rows(V.DICTIONARY_PROPOSE_MAPPING, _ALL, _DOERS),
    _rows(V.DICTIONARY_PROPOSE_MAPPING, {R.STEWARD}),
    _rows(V.MAPPING_SEE, _ALL),
    _rows(V.MAPPING_ACCEPT, {R.STEWARD}, except_for(own("proposer"))),
    _rows(V.MAPPING_ACCEPT, _ALL, both(_LEAD, except_for(own("proposer")))),
    _rows(V.MAPPING_DECLINE, {R.STEWARD}, except_for(own("proposer"))),
    _rows(V.MAPPING_DECLINE, _ALL, both(_LEAD, except_for(own("proposer")))),
    _rows(V.MAPPING_WITHDRAW, {R.STEWARD}),
    _rows(V.MAPPING_WITHDRAW, _ALL, _LEAD),
    _rows(V.MAPPING_WITHDRAW, _ALL, own("proposer")),
    _rows(V.STUDY_POOL, _ALL),
    _rows(V.POOL_SEE, _ALL, sources_open),
    _rows(V.POOL_DEPOSIT, _ALL, both(_DOERS, sources_open)),
    _rows(V.POOL_WITHDRAW, {R.STEWARD}),
    _rows(V.POOL_WITHDRAW, _ALL, _LEAD),
    _rows(V.POOL_WITHDRAW, _ALL, own("maker")),
    _rows(V.DATASET_SEE, {R.PUBLIC}),
    _rows(V.PROJECT_DEPOSIT, _ALL, _DOERS),
    _rows(V.DEPOSIT_SEE, {R.STEWARD, R.CURATOR, R.AUDITOR}),
    _rows(V.DEPOSIT_SEE, _ALL, _MEMBER),
    _rows(V.DEPOSIT_ADD_FILE, _ALL, _DOERS),
    _rows(V.DEPOSIT_DROP_FILE, _ALL, _DOERS),
    _rows(V.DEPOSIT_CONVERT, _ALL, _DOERS),
    _rows(V.DEPOSIT_SUBMIT, _ALL, _DOERS),
    _rows(V.DEPOSIT_CHECK, {R.CLOCK}),
    _rows(V.DEPOSIT_CORRECT, _ALL, _DOERS),
    _rows(V.DEPOSIT_MEND, _ALL, _DOERS),
    _rows(V.DEPOSIT_ACCEPT, {R.STEWARD}, except_for(own("maker"))),
    _rows(V.DEPOSIT_ACCEPT, _ALL, both(_LEAD, except_for(own("maker")))),
    _rows(V.DEPOSIT_DISCARD, _ALL, _DOERS),
    _rows(V.DEPOSIT_DISCARD, {R.STEWARD}),
    _rows(V.VERSION_SEE, {R.PUBLIC}),
    *(
        _rows(V.VERSION_READ, roles, both(where(state="held"), scope, sources_open))
        for roles, scope in _READERS
    ),
    _rows(V.VERSION_WITHDRAW, {R.STEWARD}),
    _rows(V.VERSION_REGISTER, {R.STEWARD}),
    _rows(V.VERSION_ERASE, {R.STEWARD, R.ADMINISTRATOR}),
    # Whoever may read the data may ask what they say.
    _rows(V.VERSION_ANALYSE, _ALL, both(released, where(state="held"))),
    _rows(V.VERSION_ANALYSE, {R.STEWARD, R.CURATOR, R.AUDITOR}, where(state="held")),
    _rows(V.VERSION_ANALYSE, _ALL, both(_MEMBER, where(state="held"))),
    _rows(V.ANALYSIS_SEE, {R.STEWARD, R.CURATOR, R.AUDITOR}),
    _rows(V.ANALYSIS_SEE, _ALL, _MEMBER),
    _rows(V.ANALYSIS_SEE, _ALL, of_released_data),
    _rows(V.ANALYSIS_COMPUTE, {R.CLOCK}),
    _rows(V.ANALYSIS_REFUSE, {R.CLOCK}),
    _rows(V.ANALYSIS_REPEAT, {R.STEWARD, R.CURATOR, R.AUDITOR}),
    _rows(V.ANALYSIS_REPEAT, _ALL, _MEMBER),
    _rows(V.ANALYSIS_REPEAT, _ALL, of_released_data),
    _rows(V.ANALYSIS_NAME_SITTING, _ALL, _LEAD),
    _rows(V.ANALYSIS_NAME_SITTING, {R.STEWARD}),
    _rows(V.ANALYSIS_CONFIRM, {R.CLOCK}),
    _rows(V.VERSION_COPY, {R.CLOCK}),
    _rows(V.COPY_SEE, {R.STEWARD, R.AUDITOR, R.ADMINISTRATOR}),
    _rows(V.COPY_FIND_DAMAGED, {R.CLOCK}),
    _rows(V.COPY_MEND, {R.CLOCK}),
    _rows(V.STORE_RUN_SEE, {R.STEWARD, R.AUDITOR, R.ADMINISTRATOR}),
    _rows(V.STORE_RUN_RECORD, {R.CLOCK}),
    # answers
    _rows(V.ANSWER_SEE, _ALL),
    _rows(V.ANSWER_DO_ACTION, {R.KEEPER, R.CURATOR}),
    _rows(V.ANSWER_GIVE_ACTION, {R.CURATOR}),
    # Of data that are not open the figure is shown by whoever answers for them.
    _rows(V.ANSWER_RELEASE_FIGURE, {R.STEWARD}),
    _rows(V.ANSWER_RELEASE_FIGURE, _ALL, _LEAD),
    _rows(V.ANSWER_WITHHOLD_FIGURE, {R.STEWARD}),
    _rows(V.ANSWER_WITHHOLD_FIGURE, _ALL, _LEAD),
    _rows(V.PROJECT_ADD_OUTPUT, _ALL, _DOERS),
    _rows(V.PROJECT_ADD_OUTPUT, {R.CURATOR}),
    _rows(V.OUTPUT_SEE, _ALL),
    _rows(V.OUTPUT_WITHDRAW, _ALL, _DOERS),
    _rows(V.OUTPUT_WITHDRAW, {R.CURATOR}),
    # reference data
    _rows(V.VOCABULARY_LOAD, {R.ADMINISTRATOR, R.CURATOR, R.CLOCK}),
    _rows(V.VOCABULARY_SEE, _ALL),
)

_BY_VERB: dict[str, list[Row]] = {}
for _row in TABLE:
    _BY_VERB.setdefault(_row.verb, []).append(_row)


def reach(model: type[Model], person: Actor, verb: Verb) -> Reach:
    """Give where a person may do a verb: True everywhere, False nowhere, else which rows."""
    found: Reach = False
    for row in _BY_VERB.get(verb, ()):
        if not row.roles & person.roles:
            continue
        reached = row.scope(person, model)
        if reached is True:
            return True
        if not isinstance(reached, bool):
            found = reached if isinstance(found, bool) else found | reached
    return found


def allowed[M: Model](queryset: QuerySet[M], person: Actor, verb: Verb) -> QuerySet[M]:
    """Filter a list to the rows on which this person may do the verb; one query, no double rows."""
    reached = reach(queryset.model, person, verb)
    if reached is True:
        return queryset
    return queryset.none() if reached is False else queryset.filter(reached)


def may(person: Actor, verb: Verb, obj: Model | None = None) -> bool:
    """Say whether a person may do the verb on this object, or, without one, at all."""
    if obj is None:
        return any(row.roles & person.roles for row in _BY_VERB.get(verb, ()))
    return allowed(type(obj)._default_manager.filter(pk=obj.pk), person, verb).exists()


def require(person: Actor, verb: Verb, obj: Model | None = None) -> None:
    """Refuse unless the person may do the verb on this object.

    Raises
    ------
    Unseen
        When the person may not even see the object.
    NotPermitted
        When the person may see it, but not do this.
    """
    if may(person, verb, obj):
        return
    if obj is not None:
        see = SEE.get(kind_of(obj))
        if see is not None and not may(person, see, obj):
            raise Unseen(
                "Nothing was found here.",
                "It does not exist, or it is not yours to see.",
                "Check the address, or ask whoever sent you here.",
            )
    who = sorted({role.label for row in _BY_VERB.get(verb, ()) for role in row.roles})
    raise NotPermitted(
        _("You may not %(label)s.") % {"label": verb.label},
        _("It is open to %(who)s: %(said_scope)s.")
        % {"who": ", ".join(who), "said_scope": said_scope(verb)},
        "Ask one of them, or an administrator if your standing is out of date.",
    )


def said_scope(verb: Verb) -> str:
    """Give the scopes of a verb in words."""
    said = [(row.scope.__doc__ or "").strip().rstrip(".").lower() for row in _BY_VERB.get(verb, ())]
    return " or ".join(dict.fromkeys(said)) or "nothing"


def kind_of(obj: Model | type[Model]) -> str:
    """Give the kind of a model: the first half of its verbs."""
    return str(getattr(obj, "kind", obj._meta.model_name))


SEE: dict[str, Verb] = {verb.split(".")[0]: verb for verb in Verb if verb.endswith(".see")}


FROM_NOTHING = frozenset(
    {
        Verb.PERSON_ADD,
        Verb.INSTITUTION_OPEN,
        Verb.BODY_OPEN,
        Verb.TAXON_ADD,
        Verb.ENCLOSURE_OPEN,
        Verb.ANIMAL_RECEIVE,
        Verb.ANIMAL_IMPORT,
        Verb.GROUP_RECEIVE,
        Verb.CASE_RECORD,
        Verb.QUESTION_POST,
        Verb.STUDY_OPEN,
        Verb.CONCERN_RAISE,
        Verb.CONCERN_FOLLOW,
        Verb.AUDIT_OPEN,
        Verb.REST_RULE_SET,
        Verb.TRAINING_RULE_SET,
        Verb.YEAR_RETURN_PUBLISH,
        Verb.BREACH_OPEN,
        Verb.VOCABULARY_LOAD,
        Verb.STORE_RUN_RECORD,
    }
)
"""Verbs that make an object where there was none: they are never asked of one that is there."""


def is_look(verb: Verb) -> bool:
    """Say whether a verb only looks, and changes nothing."""
    done = verb.split(".")[1]
    return done == "see" or done.startswith("see_") or verb in {Verb.VERSION_READ, Verb.USE_REVIEW}


def verbs_of(model: type[Model]) -> list[Verb]:
    """Give the verbs that are asked of a kind of object; looks and first makings are left out."""
    kind = kind_of(model)
    return [
        verb
        for verb in Verb
        if verb.split(".")[0] == kind and not is_look(verb) and verb not in FROM_NOTHING
    ]


def with_can[M: Model](queryset: QuerySet[M], person: Actor) -> QuerySet[M]:
    """Annotate each row with `may_<verb>` for every verb of its kind: still one query.

    Looks are marked too, but for the one that the list itself is filtered by.
    """
    marks: dict[str, Any] = {}
    kind = kind_of(queryset.model)
    for verb in Verb:
        if verb.split(".")[0] != kind or verb in FROM_NOTHING or verb.endswith(".see"):
            continue
        name = f"may_{verb.split('.')[1]}"
        reached = reach(queryset.model, person, verb)
        if isinstance(reached, bool):
            marks[name] = Value(reached, output_field=BooleanField())
        else:
            row = queryset.model._default_manager.filter(pk=OuterRef("pk"))
            marks[name] = Exists(row.filter(reached))
    return queryset.annotate(**marks) if marks else queryset


def can(obj: Model, person: Actor) -> list[str]:
    """Give the verbs that this person may do on this object in the state in which it is.

    The same list draws the buttons and stands in the API as `can`.
    """
    lifecycle = getattr(obj, "lifecycle", None)
    open_verbs: list[str] = []
    for verb in verbs_of(type(obj)):
        name = verb.split(".")[1]
        if lifecycle is not None and (getattr(obj, "state", ""), name) not in lifecycle.steps:
            continue
        mark = getattr(obj, f"may_{name}", None)
        if mark if mark is not None else may(person, verb, obj):
            open_verbs.append(name)
    return open_verbs
