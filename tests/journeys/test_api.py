"""The whole job over the API, by programs of the people who do it, each with a token.

Beside each main step stands what is refused there: the wrong person, the wrong state, bad input.
"""

import csv
import io
import json
import zipfile
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import requests
from django.core.management import call_command
from django.utils import timezone

from registry.ledger.proof import check as check_ledger
from registry.oversight.models import Breach
from tests.worlds.archive import descriptor
from tests.worlds.callers import Caller, caller_of, sign_in, work_off_the_queue
from tests.worlds.cast import Cast, Pool, make_cast, make_pool

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]

MORNING = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
TODAY = MORNING.date()
LAST_DAY = TODAY + timedelta(days=120)
FAULT = "ray,two"


@dataclass
class Job:
    """Who calls, and what has come into being so far, by its number."""

    cast: Cast
    pool: Pool
    address: str
    callers: dict[str, Caller]
    made: dict[str, int] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Caller:
        return self.callers[name]

    def at(self, kind: str, path: str = "") -> str:
        """Give the address of what was made, or of a deed on it."""
        plural = {"study": "studies"}.get(kind, f"{kind}s")
        return f"{plural}/{self.made[kind]}/{path}"


@pytest.fixture
def job(live_server: Any, time_machine: Any) -> Job:
    """Everyone is here with a token, and four rays have lived in the pool for a year."""
    time_machine.move_to(MORNING)
    cast = make_cast()
    pool = make_pool(cast.curator, arrived_on=TODAY - timedelta(days=400))
    names = [name for name in vars(cast) if name not in {"committee", "ethics"}]
    callers = {name: caller_of(getattr(cast, name), live_server.url) for name in names}
    return Job(cast, pool, live_server.url, callers)


def test_the_whole_job_is_done_over_the_api(job: Job, time_machine: Any) -> None:
    ask(job)
    open_the_work(job)
    plan(job)
    permit(job)
    book(job)
    collect(job, time_machine)
    deposit(job)
    read_what_was_published(job)
    answer(job)
    close(job)
    audit(job)


def ask(job: Job) -> None:
    """A keeper posts a question, the curator takes it on, a student would like it."""
    question = {
        "title": "Do the rays rest less on busy days?",
        "why": "They look restless when the gallery is full.",
        "would_change": "Two quiet hours at noon.",
        "animals": "undulate rays",
        "taxon": job.pool.taxon.pk,
    }
    Caller(job.address).is_refused(401, "questions/", **question)
    job.student.is_refused(403, "questions/", **question)
    refusal = job.keeper.is_refused(422, "questions/", **{**question, "why": ""})
    assert "why" in refusal["fields"]
    posted = job.keeper.does("questions/", **question)
    assert (posted["state"], posted["asker"]) == ("posted", job.cast.keeper.pk)
    assert "take_on" not in posted["can"]
    job.made["question"] = posted["id"]
    take_on = {
        "reason": "No held data tell.",
        "level": "research_masters",
        "first_month": 3,
        "last_month": 9,
    }
    job.keeper.is_refused(403, job.at("question", "take_on/"), **take_on)
    job.curator.is_refused(422, job.at("question", "take_on/"), reason="")
    assert "take_on" in job.curator.sees(job.at("question"))["can"]
    taken = job.curator.does(job.at("question", "take_on/"), **take_on)
    assert taken["state"] == "taken_on"
    job.curator.is_refused(409, job.at("question", "take_on/"), **take_on)
    job.keeper.is_refused(403, job.at("question", "like/"), note="")
    job.student.does(job.at("question", "like/"), note="From March on.")
    job.student.is_refused(409, job.at("question", "like/"), note="")
    (listed,) = job.student.lists("questions/", state="taken_on")
    assert listed["triage_reason"] == "No held data tell."


def open_the_work(job: Job) -> None:
    """The supervisor opens a study with its dictionary, and a cohort with a student in it."""
    study = {
        "title": "Activity of undulate rays and visitors",
        "aim": "Tell whether the rays rest less on busy days.",
        "taxon": job.pool.taxon.pk,
        "questions": [job.made["question"]],
    }
    job.student.is_refused(403, "studies/", **study)
    job.lead.is_refused(422, "studies/", **{**study, "title": ""})
    job.made["study"] = job.lead.does("studies/", **study)["id"]
    project = {
        "cohort": "2026–27",
        "level": "research_masters",
        "starts_on": str(TODAY),
        "ends_on": str(LAST_DAY),
        "keeper_hours_week": 2,
        "lead": job.cast.lead.pk,
    }
    job.keeper.is_refused(403, job.at("study", "open_project/"), **project)
    backwards = {**project, "ends_on": str(TODAY - timedelta(days=1))}
    job.lead.is_refused(422, job.at("study", "open_project/"), **backwards)
    opened = job.lead.does(job.at("study", "open_project/"), **project)
    assert opened["state"] == "drafted"
    job.made["project"] = opened["id"]
    dictionary = json.dumps(descriptor())
    job.student.is_refused(403, job.at("study", "write_dictionary/"), descriptor=dictionary)
    job.lead.is_refused(422, job.at("study", "write_dictionary/"), descriptor="{")
    published = job.lead.does(job.at("study", "write_dictionary/"), descriptor=dictionary)
    job.made["dictionary"] = published["id"]
    fields = published["descriptor"]["resources"][0]["schema"]["fields"]
    assert all(one["x:fieldId"] for one in fields)
    part = {"person": job.cast.student.pk, "part": "student"}
    job.reviewer.is_refused(403, job.at("project", "assign/"), **part)
    job.lead.is_refused(422, job.at("project", "assign/"), person=job.cast.keeper.pk, part="lead")
    job.lead.does(job.at("project", "assign/"), **part)
    job.lead.is_refused(409, job.at("project", "assign/"), **part)


def plan(job: Job) -> None:
    """The members write the plan; a supervisor who is not one reviews it."""
    written = {
        "hypothesis": "Rays rest less on busy days.",
        "experimental_unit": "a pool on a day",
        "unit_reason": "Visitors come to a pool, not to one ray.",
        "outcome": "share of scans at rest",
        "outcome_unit": "1",
        "sampling_rule": "scan",
        "recording_rule": "instantaneous",
        "number_reason": "All three rays of the pool that feed well, over forty days.",
        "analysis": "A randomisation test over days.",
        "data_plan": "One row a scan, deposited each month.",
        "max_severity": 0,
        "procedures": [job.pool.procedure.pk],
        "places": [job.pool.place.pk],
    }
    job.reviewer.is_refused(403, job.at("project", "write_plan/"), **written)
    bad = job.student.is_refused(422, job.at("project", "write_plan/"), sampling_rule="by eye")
    assert "sampling_rule" in bad["fields"]
    job.lead.is_refused(422, job.at("project", "submit/"))
    job.student.does(job.at("project", "write_plan/"), **written)
    arm = {"name": "busy and quiet days", "taxon": job.pool.taxon.pk, "units": 2, "animals": 3}
    job.student.does(job.at("project", "add_arm/"), **arm)
    job.lead.is_refused(422, job.at("project", "add_arm/"), **arm)
    job.student.is_refused(403, job.at("project", "submit/"))
    assert job.lead.does(job.at("project", "submit/"))["state"] == "submitted"
    job.lead.is_refused(403, job.at("project", "accept/"), remarks="Fine by me.")
    job.reviewer.is_refused(422, job.at("project", "return/"), reason="")
    accepted = job.reviewer.does(job.at("project", "accept/"), remarks="The unit is right.")
    assert accepted["state"] == "accepted"
    job.reviewer.is_refused(409, job.at("project", "accept/"), remarks="Twice.")


def permit(job: Job) -> None:
    """Each permission is stated; two bodies decide; the student signs and is inducted."""
    kinds = {one["code"]: one for one in job.lead.lists("permission-kinds/")}
    needed = {"research-committee", "university-ethics", "data-agreement", "induction"}
    for code, kind in kinds.items():
        if not kind["is_always_asked"]:
            continue
        stated = {"permission": kind["id"], "is_needed": code in needed}
        if code not in needed:
            job.lead.is_refused(422, job.at("project", "need/"), **stated)
            stated["reason"] = "Nothing in the plan asks for it."
        job.lead.does(job.at("project", "need/"), **stated)
    job.lead.is_refused(422, job.at("project", "start/"))
    for code, body, chair, member in (
        ("research-committee", job.cast.committee, "chair", "member"),
        ("university-ethics", job.cast.ethics, "ethics_chair", "ethics_member"),
    ):
        approve(job, kinds[code]["id"], body.pk, chair, member)
    signed = {"terms": "open", "embargo_months": 0, "signed_name": job.cast.student.name}
    job.lead.is_refused(403, job.at("project", "sign_agreement/"), **signed)
    someone_else = {**signed, "signed_name": "Someone Else"}
    job.student.is_refused(422, job.at("project", "sign_agreement/"), **someone_else)
    job.student.does(job.at("project", "sign_agreement/"), **signed)
    job.student.is_refused(409, job.at("project", "sign_agreement/"), **signed)
    refusal = job.lead.is_refused(422, job.at("project", "start/"))
    assert "induction" in refusal["why"]
    induct = {"about": "the ray pools", "given_on": str(TODAY), "expires_on": str(LAST_DAY)}
    student = f"people/{job.cast.student.pk}/induct/"
    job.lead.is_refused(403, student, **induct)
    job.curator.is_refused(422, student, **{**induct, "expires_on": "2020-01-01"})
    job.curator.does(student, **induct)


def approve(job: Job, permission: int, body: int, chair: str, member: str) -> None:
    """Ask one body for one permission, and have it decide with its quorum."""
    asked = {
        "permission": permission,
        "body": body,
        "title": "May the ray study watch three rays?",
        "case": "The keepers ask for it, and no data held can tell.",
        "harms": "A person stands at the glass.",
        "benefits": "Quiet hours are set where they help.",
        "starts_on": str(TODAY),
        "ends_on": str(LAST_DAY),
        "weekdays": list("1234567"),
        "max_severity": 0,
        "places": [job.pool.place.pk],
    }
    job.student.is_refused(403, job.at("project", "request_approval/"), **asked)
    job.lead.is_refused(422, job.at("project", "request_approval/"), **{**asked, "weekdays": []})
    approval = job.lead.does(job.at("project", "request_approval/"), **asked)
    job.made["approval"] = approval["id"]
    job.lead.is_refused(422, job.at("approval", "submit/"))
    limit = {"taxon": job.pool.taxon.pk, "procedure": job.pool.procedure.pk, "max_animals": 3}
    job.student.is_refused(403, job.at("approval", "add_limit/"), **limit)
    job.lead.does(job.at("approval", "add_limit/"), **limit, max_contacts_each=40)
    decided = {
        "reason": "Sound, and little is asked of the rays.",
        "deciders": [getattr(job.cast, chair).pk, getattr(job.cast, member).pk],
        "condition_1": "A keeper is told before each session.",
        "due_1": str(LAST_DAY),
    }
    job.callers[chair].is_refused(409, job.at("approval", "approve/"), **decided)
    assert job.lead.does(job.at("approval", "submit/"))["state"] == "submitted"
    job.lead.is_refused(403, job.at("approval", "approve/"), **decided)
    alone = {**decided, "deciders": [getattr(job.cast, chair).pk]}
    job.callers[chair].is_refused(422, job.at("approval", "approve/"), **alone)
    granted = job.callers[chair].does(job.at("approval", "approve/"), **decided)
    assert granted["state"] == "approved"
    assert [one["standing"] for one in granted["conditions"]] == ["due"]
    job.callers[chair].is_refused(409, job.at("approval", "approve/"), **decided)
    outsider = "student" if chair == "chair" else "keeper"
    assert job.callers[outsider].sees(job.at("approval"))["id"] == job.made["approval"]


def book(job: Job) -> None:
    """Animals, place and days are asked for, offered and confirmed, and collecting starts."""
    wish = {"wish": "Three rays that feed well.", "starts_on": str(TODAY)}
    job.keeper.is_refused(403, job.at("project", "request_booking/"), **wish, ends_on=str(LAST_DAY))
    too_long = str(LAST_DAY + timedelta(days=400))
    job.student.is_refused(422, job.at("project", "request_booking/"), **wish, ends_on=too_long)
    asked = job.student.does(job.at("project", "request_booking/"), **wish, ends_on=str(LAST_DAY))
    job.made["booking"] = asked["id"]
    job.curator.is_refused(409, job.at("booking", "confirm/"))
    rays = [ray.pk for ray in job.pool.rays]
    offer = {
        "animals": rays,
        "places": [job.pool.place.pk],
        "starts_on": str(TODAY),
        "ends_on": str(LAST_DAY),
    }
    job.student.is_refused(403, job.at("booking", "offer/"), **offer)
    job.curator.is_refused(422, job.at("booking", "offer/"), **{**offer, "places": []})
    restricted = keep_off(job, rays[3], offer)
    offered = job.curator.does(job.at("booking", "offer/"), **offer)
    assert offered["state"] == "offered"
    job.student.is_refused(403, job.at("booking", "confirm/"))
    assert job.curator.does(job.at("booking", "confirm/"))["state"] == "confirmed"
    assert job.vet.sees(f"restrictions/{restricted}/")["state"] == "ended"
    job.student.is_refused(403, job.at("project", "start/"))
    assert job.lead.does(job.at("project", "start/"))["state"] == "collecting"
    job.lead.is_refused(409, job.at("project", "start/"))
    enrol(job, offered)


def keep_off(job: Job, ray: int, offer: dict[str, Any]) -> int:
    """A keeper bars one ray, so that it cannot be offered until the vet frees it."""
    barred = {
        "sort": "welfare",
        "note": "Off its food.",
        "strength": "vets_word",
        "began_on": str(TODAY),
    }
    job.student.is_refused(403, f"animals/{ray}/restrict/", **barred)
    begun = job.keeper.does(f"animals/{ray}/restrict/", **barred)
    refusal = job.curator.is_refused(409, job.at("booking", "offer/"), **offer)
    assert "restriction" in refusal["why"]
    end = {"ended_on": str(TODAY), "reason": "It feeds again."}
    job.curator.is_refused(403, f"restrictions/{begun['id']}/end/", **end)
    job.vet.does(f"restrictions/{begun['id']}/end/", **end)
    number: int = begun["id"]
    return number


def enrol(job: Job, booking: dict[str, Any]) -> None:
    """Three rays enter the project; a fourth is more than the approvals allow."""
    subjects = [one["id"] for one in booking["subjects"]]
    entered = {"subjects": subjects[:3], "from_on": str(TODAY)}
    job.keeper.is_refused(403, job.at("booking", "enrol/"), **entered)
    outside = str(LAST_DAY + timedelta(days=1))
    job.student.is_refused(422, job.at("booking", "enrol/"), **{**entered, "from_on": outside})
    refusal = job.student.is_refused(
        422, job.at("booking", "enrol/"), **{**entered, "subjects": subjects}
    )
    assert "3" in refusal["why"]
    job.student.does(job.at("booking", "enrol/"), **entered)
    enrolled = job.student.lists("enrolments/", project=job.made["project"])
    assert sorted(one["code"] for one in enrolled) == ["R-01", "R-02", "R-03"]
    job.made |= {one["code"]: one["id"] for one in enrolled}
    job.student.is_refused(422, job.at("booking", "enrol/"), **entered)


def collect(job: Job, time_machine: Any) -> None:
    """Sessions are planned and held; what was done with a ray that is not enrolled is a breach."""
    start = MORNING + timedelta(minutes=30)
    planned = {
        "code": "S1",
        "place": job.pool.place.pk,
        "planned_start": start.isoformat(),
        "planned_end": (start + timedelta(minutes=30)).isoformat(),
        "observers": [job.cast.student.pk],
        "enrolments": [job.made["R-01"], job.made["R-02"]],
    }
    job.keeper.is_refused(403, job.at("project", "plan_session/"), **planned)
    backwards = {**planned, "planned_end": MORNING.isoformat()}
    job.student.is_refused(422, job.at("project", "plan_session/"), **backwards)
    session = job.student.does(job.at("project", "plan_session/"), **planned)
    job.made["session"] = session["id"]
    held = {
        "started_at": planned["planned_start"],
        "ended_at": planned["planned_end"],
        "enrolments": planned["enrolments"],
        "procedure": job.pool.procedure.pk,
        "visitors": 40,
    }
    job.student.is_refused(422, job.at("session", "hold/"), **held)
    time_machine.move_to(MORNING + timedelta(hours=2))
    job.reviewer.is_refused(403, job.at("session", "hold/"), **held)
    loud = {**held, "noise_db": 70}
    job.student.is_refused(422, job.at("session", "hold/"), **loud)
    assert job.student.does(job.at("session", "hold/"), **held)["state"] == "held"
    job.student.is_refused(409, job.at("session", "hold/"), **held)
    use = {"procedure": job.pool.procedure.pk, "number": 1, "note": "Passed by the glass."}
    now = timezone.now()
    job.keeper.is_refused(
        403, job.at("project", "record_use/"), **use, other="R-04", happened_at=now.isoformat()
    )
    later = (now + timedelta(hours=1)).isoformat()
    job.student.is_refused(
        422, job.at("project", "record_use/"), **use, other="R-04", happened_at=later
    )
    job.student.does(
        job.at("project", "record_use/"), **use, other="R-04", happened_at=now.isoformat()
    )
    breaches = job.auditor.lists("breaches/", project=job.made["project"])
    # It was the fourth ray in view, too, and both approvals say three.
    codes = sorted(one["code"] for one in breaches)
    assert codes == ["not-enrolled", "over-animals", "over-animals"]
    for breach in breaches:
        explain(job, breach["id"])


def explain(job: Job, breach: int) -> None:
    """The lead explains a breach, the auditor settles it."""
    said = {"explanation": "It came into view by itself, and was left alone."}
    job.student.is_refused(403, f"breaches/{breach}/explain/", **said)
    job.lead.is_refused(422, f"breaches/{breach}/explain/", explanation="")
    job.auditor.is_refused(409, f"breaches/{breach}/settle/")
    assert job.lead.does(f"breaches/{breach}/explain/", **said)["state"] == "explained"
    job.lead.is_refused(403, f"breaches/{breach}/settle/")
    assert job.auditor.does(f"breaches/{breach}/settle/")["state"] == "settled"


def table(*, is_faulty: bool) -> bytes:
    """Give the scans of today: six rows, the last of a ray that was not enrolled."""
    rows = [f"{n},R-0{1 + n % 2},{TODAY},{'REST' if n % 2 else 'SWIM'},{n}.5" for n in range(1, 6)]
    if is_faulty:
        rows[2] = rows[2].replace("REST", "SLEEP").replace("3.5", "deep")
    return "\n".join(
        ["scan,ray,seen_on,posture,depth", *rows, f"6,R-04,{TODAY},REST,1.0", ""]
    ).encode()


def zipped(content: bytes) -> bytes:
    """Give a package: the descriptor and its table, in a zip."""
    whole = descriptor()
    whole["resources"][0]["path"] = "scans.csv"
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as package:
        package.writestr("datapackage.json", json.dumps(whole))
        package.writestr("scans.csv", content)
    return packed.getvalue()


def deposit(job: Job) -> None:
    """A zip with a fault is checked, corrected, checked again, and accepted by the steward."""
    opened = {"dictionary": job.made["dictionary"], "note": "March."}
    job.curator.is_refused(403, job.at("project", "deposit/"), **opened)
    job.student.is_refused(422, job.at("project", "deposit/"), dictionary=999)
    job.made["deposit"] = job.student.does(job.at("project", "deposit/"), **opened)["id"]
    job.keeper.is_refused(404, job.at("deposit", "submit/"))
    job.student.is_refused(422, job.at("deposit", "submit/"))
    job.student.is_refused(422, job.at("deposit", "add_file/"))
    job.steward.is_refused(
        403, job.at("deposit", "add_file/"), files=[("files", ("scans.zip", b"PK"))]
    )
    add(job, "scans.zip", zipped(table(is_faulty=True)))
    job.student.is_refused(409, job.at("deposit", "correct/"))
    assert job.student.does(job.at("deposit", "submit/"))["state"] == "submitted"
    work_off_the_queue()
    assert job.student.sees(job.at("deposit"))["state"] == "checked"
    report = job.student.sees(job.at("deposit", "report/"))
    assert report["verdict"] == "invalid"
    said = {
        (one["code"], one["row"], one["field"], one["value"])
        for found in report["findings"].values()
        for one in found
    }
    assert said >= {
        ("category-error", 4, "posture", "SLEEP"),
        ("type-error", 4, "depth", "deep"),
        ("not-enrolled", 7, "ray", "R-04"),
    }
    accept = {"licence": "CC-BY-4.0", "access": "open"}
    job.steward.is_refused(422, job.at("deposit", "accept/"), **accept)
    correct_and_accept(job, accept)


def correct_and_accept(job: Job, accept: dict[str, str]) -> None:
    """Nothing is lost: the corrected table takes the place of the one at fault."""
    corrected = job.student.does(job.at("deposit", "correct/"))
    assert (corrected["state"], corrected["round"]) == ("opened", 2)
    assert [one["name"] for one in corrected["files"]] == ["scans.zip"]
    add(job, "scans.zip", zipped(table(is_faulty=False)))
    job.student.does(job.at("deposit", "submit/"))
    work_off_the_queue()
    report = job.student.sees(job.at("deposit", "report/"))
    assert (report["verdict"], report["round"]) == ("valid", 2)
    assert list(report["findings"]) == ["not-enrolled"]
    breaches = job.lead.lists("breaches/", state="opened")
    assert [one["code"] for one in breaches] == ["not-enrolled"]
    assert "R-04" in breaches[0]["said"]
    job.student.is_refused(403, job.at("deposit", "accept/"), **accept)
    job.steward.is_refused(422, job.at("deposit", "accept/"), licence="free", access="open")
    version = job.steward.does(job.at("deposit", "accept/"), **accept)
    assert (version["number"], version["state"], version["rows"]) == ("1.0.0", "held", 6)
    job.made["version"] = version["id"]
    job.steward.is_refused(409, job.at("deposit", "accept/"), **accept)
    job.lead.does(f"breaches/{breaches[0]['id']}/explain/", explanation="A slip of the pen.")


def add(job: Job, name: str, content: bytes) -> None:
    """Upload one file."""
    files = [("files", (name, content, "application/octet-stream"))]
    job.student.does(job.at("deposit", "add_file/"), files=files)


def read_what_was_published(job: Job) -> None:
    """Anyone reads the version, without signing in, byte for byte."""
    anyone = Caller(job.address)
    version = anyone.sees(job.at("version"))
    page = version["url"]
    assert page.startswith("/archive/versions/")
    package = anyone.sees(f"{page}datapackage.json")
    (resource,) = package["resources"]
    served = anyone.call("GET", f"{page}{resource['path']}").content
    assert served == table(is_faulty=False)
    assert len(served) == resource["bytes"]
    assert package["version"] == "1.0.0"
    anyone.is_refused(403, job.at("version", "withdraw/"), ground="faulty", reason="No.")
    job.lead.is_refused(403, job.at("version", "withdraw/"), ground="faulty", reason="No.")


def answer(job: Job) -> None:
    """The answer goes back, is queried, written anew, and acknowledged by whoever asked."""
    job.student.is_refused(403, job.at("project", "finish/"))
    assert job.lead.does(job.at("project", "finish/"))["state"] == "reporting"
    job.lead.is_refused(409, job.at("project", "finish/"))
    written = {
        "study": job.made["study"],
        "summary": "On busy days the rays rest a third less.",
        "sureness": "Three rays in one pool: sure for this pool, not for another.",
        "evidence": [job.made["version"]],
        "husbandry": "Close the near side of the pool from 12:00 to 14:00, by 2027-06-01",
    }
    job.keeper.is_refused(409, job.at("question", "acknowledge/"))
    job.student.is_refused(403, job.at("question", "answer/"), **written)
    job.lead.is_refused(422, job.at("question", "answer/"), **{**written, "evidence": []})
    assert job.lead.does(job.at("question", "answer/"), **written)["state"] == "answered"
    job.lead.is_refused(403, job.at("question", "acknowledge/"))
    job.keeper.is_refused(422, job.at("question", "query/"), reason="")
    queried = job.keeper.does(job.at("question", "query/"), reason="How long do they rest?")
    assert queried["state"] == "taken_on"
    again = {**written, "summary": "On busy days they rest 8 hours, on quiet days 12."}
    job.lead.does(job.at("question", "answer/"), **again)
    assert job.keeper.does(job.at("question", "acknowledge/"))["state"] == "acknowledged"
    job.keeper.is_refused(409, job.at("question", "acknowledge/"))
    answers = job.keeper.lists("answers/", question=job.made["question"])
    assert len(answers) == 2
    newest = max(answers, key=lambda one: one["id"])
    action = {"action": newest["actions"][0]["id"], "is_done": "yes", "outcome": "A rope."}
    job.student.is_refused(403, f"answers/{newest['id']}/do_action/", **action)
    told = job.keeper.does(f"answers/{newest['id']}/do_action/", **action)
    assert told["actions"][0]["is_done"] is True


def close(job: Job) -> None:
    """The animals are discharged, the booking released, and the project closed."""
    report = {"text": "As planned.", "deviations": "", "learned": "A shorter net is enough."}
    refusal = job.lead.is_refused(409, job.at("project", "close/"), **report)
    assert "enrolled" in refusal["why"].lower()
    leave = {"left_on": str(TODAY), "actual_severity": 0}
    for code in ("R-01", "R-02", "R-03"):
        address = f"enrolments/{job.made[code]}/discharge/"
        job.keeper.is_refused(403, address, **leave)
        job.student.is_refused(422, address, **{**leave, "left_on": str(LAST_DAY)})
        assert job.student.does(address, **leave)["state"] == "discharged"
        job.student.is_refused(409, address, **leave)
    assert job.curator.does(job.at("booking", "release/"))["state"] == "released"
    job.student.is_refused(403, job.at("project", "close/"), **report)
    job.lead.is_refused(422, job.at("project", "close/"), text="")
    assert job.lead.does(job.at("project", "close/"), **report)["state"] == "closed"
    job.lead.is_refused(409, job.at("project", "close/"), **report)


def audit(job: Job) -> None:
    """The auditor sees each use and breach as of a day, exports them, and verifies the record."""
    uses = job.auditor.lists("uses/", project=job.made["project"])
    assert len(uses) == 3
    breaches = job.auditor.lists("breaches/", project=job.made["project"])
    assert {one["state"] for one in breaches} == {"explained", "settled"}
    history = job.auditor.lists("ledger/", subject=f"projects.project:{job.made['project']}")
    assert [one["after"] for one in history if one["after"] != one["before"]][-1] == "closed"
    with requests.Session() as browser:
        sign_in(browser, job.address, job.cast.auditor)
        said = browser.get(f"{job.address}{review_address()}", timeout=60)
        assert said.status_code == 200
        rows = exported(browser, job, happened_by=TODAY, known_by=TODAY)
        assert sorted(row["animal"] for row in rows) == ["R-01", "R-02", "R-04"]
        yesterday = TODAY - timedelta(days=1)
        assert exported(browser, job, happened_by=TODAY, known_by=yesterday) == []
        assert exported(browser, job, happened_by=yesterday, known_by=TODAY) == []
    assert Breach.objects.count() == len(breaches) == 4
    call_command("verify_ledger", subjects=True)
    found, reading = check_ledger(with_subjects=True, anchor=None)
    assert list(found) == []
    assert reading.entries == len(job.auditor.lists("ledger/"))


def review_address(export: str = "") -> str:
    """Give the address of the auditor's review, or of its export."""
    return f"/oversight/review/{export}"


def exported(
    browser: requests.Session, job: Job, *, happened_by: date, known_by: date
) -> list[dict[str, str]]:
    """Give the rows of the auditor's export as of two days."""
    asked = {"happened_by": str(happened_by), "known_by": str(known_by)}
    answer = browser.get(f"{job.address}{review_address('uses.csv')}", params=asked, timeout=60)
    assert answer.headers["Content-Type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.text)))
