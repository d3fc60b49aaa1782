"""The whole job by real pages in a real browser, by people who press what the pages show.

The keeper and the student have a phone, and scripts switched off; the others sit at a desk.
"""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from registry.ledger.proof import check as check_ledger
from tests.worlds.archive import descriptor
from tests.worlds.browsing import DESK, PHONE, Visitor
from tests.worlds.callers import work_off_the_queue
from tests.worlds.cast import Cast, Pool, make_cast, make_pool

pytestmark = [
    pytest.mark.browser,
    pytest.mark.journey,
    # The first booking is booking 1, whatever ran before.
    pytest.mark.django_db(transaction=True, reset_sequences=True),
]

QUESTION = "Do the rays rest less on busy days?"
STUDY = "Activity of undulate rays and visitors"
COHORT = "2026–27"
MINUTE = "%Y-%m-%dT%H:%M"
ON_PHONE = {"keeper", "student"}


@dataclass
class Job:
    """Everyone, each with a window of their own that opens when it is first asked for."""

    cast: Cast
    pool: Pool
    open_window: Callable[[str], Visitor]
    folder: Path
    morning: datetime
    windows: dict[str, Visitor] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Visitor:
        if name not in self.windows:
            self.windows[name] = self.open_window(name)
            self.windows[name].sign_in()
        return self.windows[name]

    @property
    def today(self) -> Any:
        return self.morning.date()

    @property
    def last_day(self) -> str:
        return str(self.today + timedelta(days=120))

    @property
    def student_name(self) -> str:
        return self.cast.student.name

    def at(self, hour: int, minute: int = 0) -> str:
        return self.morning.replace(hour=hour, minute=minute).strftime(MINUTE)


@pytest.fixture
def job(live_server: Any, new_context: Any, time_machine: Any, tmp_path: Path) -> Job:
    """It is nine in the morning; four rays have lived in the pool for a year."""
    now = timezone.localtime()
    morning = now.replace(hour=9, minute=0, second=0, microsecond=0)
    time_machine.move_to(morning)
    cast = make_cast()
    pool = make_pool(cast.curator, arrived_on=morning.date() - timedelta(days=400))

    def open_window(name: str) -> Visitor:
        is_on_phone = name in ON_PHONE
        context = new_context(
            base_url=live_server.url,
            viewport=PHONE if is_on_phone else DESK,
            java_script_enabled=not is_on_phone,
            accept_downloads=True,
        )
        return Visitor(getattr(cast, name), context.new_page(), is_on_phone)

    return Job(cast, pool, open_window, tmp_path, morning)


def test_the_whole_job_is_done_by_pages(job: Job, time_machine: Any) -> None:
    try:
        ask(job)
        open_the_work(job)
        plan(job)
        permit(job)
        book(job)
        collect(job, time_machine)
        deposit(job)
        answer(job)
        close(job)
        audit(job)
    except BaseException:
        for name, window in job.windows.items():
            window.page.screenshot(path=job.folder / f"{name}.png", full_page=True)
        print(f"screenshots of every window: {job.folder}")
        raise


def ask(job: Job) -> None:
    """A keeper asks, the curator takes it on, a student would like it."""
    keeper = job.keeper
    keeper.goes_to("Questions", "Post a question")
    keeper.types(Your_question=QUESTION, Which_animals="undulate rays")
    keeper.chooses("Kind of animal", str(job.pool.taxon))
    keeper.presses("Post the question", refused=422)
    # Nothing that was typed is lost.
    assert keeper.page.get_by_label("Your question").input_value() == QUESTION
    keeper.types(Why_it_matters="They look restless.", What_would_change="Two quiet hours.")
    keeper.presses("Post the question")
    keeper.reads(QUESTION, "posted", "They look restless.")
    curator = job.curator
    curator.goes_to("Questions", QUESTION, "Take it on")
    curator.fills("Why it is taken on", "No held data tell.")
    curator.presses("Take it on")
    curator.reads("taken on", "No held data tell.")
    student = job.student
    student.goes_to("Questions", QUESTION, "I would like this one")
    student.fills("A word to the supervisors", "From March on.")
    student.presses("I would like this one")
    student.reads("You said on")
    assert not student.offers("Take it on")


def open_the_work(job: Job) -> None:
    """The supervisor opens a study, its dictionary and a cohort, and assigns the student."""
    lead = job.lead
    lead.goes_to("Studies", "Open a study")
    lead.types(Title=STUDY, Aim="Tell whether the rays rest less on busy days.")
    lead.chooses("Taxon", str(job.pool.taxon))
    lead.picks(QUESTION)
    lead.presses("Open the study")
    lead.reads(STUDY, "No cohort has been opened.")
    lead.follows("Open a cohort")
    lead.types(Cohort=COHORT, First_day=str(job.today), Last_day=job.last_day)
    lead.chooses("Level of the student", "research master's")
    lead.presses("Open a cohort")
    lead.goes_to("Studies", STUDY, "Publish a dictionary")
    lead.fills("Descriptor as text", json.dumps(descriptor()))
    lead.presses("Publish a dictionary")
    lead.reads("posture", "resting")
    lead.goes_to("Studies", COHORT, "Assign someone")
    lead.reads(job.student_name)
    lead.chooses("Person", job.student_name)
    lead.presses("Assign someone")
    lead.reads(job.student_name)


def plan(job: Job) -> None:
    """The student writes the plan on the phone; another supervisor reviews it."""
    student = job.student
    student.goes_to("Studies", COHORT, "Write the plan")
    student.fills("Experimental unit", "a pool on a day")
    student.fills("Why this many", "All three rays of the pool that feed well.")
    student.fills("Outcome", "share of scans at rest")
    student.fills("Analysis", "A randomisation test over days.")
    student.fills("Data plan", "One row a scan, deposited each month.")
    student.picks(job.pool.procedure.name, str(job.pool.place))
    student.presses("Keep the plan")
    student.follows("Add a treatment")
    student.types(Treatment_or_group="busy and quiet days", Experimental_units="2")
    student.fills("Animals or eggs", "3")
    student.presses("Add a treatment")
    student.reads("busy and quiet days")
    lead = job.lead
    lead.goes_to("Studies", COHORT, "Submit the plan")
    lead.presses("Submit the plan")
    lead.reads("submitted")
    assert not lead.offers("Accept the plan")
    reviewer = job.reviewer
    reviewer.goes_to("Studies", COHORT, "Accept the plan")
    reviewer.fills("Remarks", "The unit is right.")
    reviewer.presses("Accept the plan")
    reviewer.reads("accepted")


def permit(job: Job) -> None:
    """Each need is stated, two bodies decide, the student signs and is inducted."""
    lead = job.lead
    needed = {"collection's research committee", "university ethics", "data agreement"}
    needed.add("inductions")
    for kind in (
        "collection's research committee",
        "university ethics",
        "licence for regulated procedures",
        "owner's consent",
        "risk assessment",
        "data agreement",
        "inductions",
    ):
        lead.goes_to("Studies", COHORT, "State a need")
        lead.chooses("Permission", kind)
        if kind not in needed:
            lead.unpicks("It is needed")
            lead.fills("Reason", "Nothing in the plan asks for it.")
        lead.presses("State a need")
    approve(job, "collection's research committee", job.cast.committee.name, "chair")
    approve(job, "university ethics", job.cast.ethics.name, "ethics_chair")
    student = job.student
    student.goes_to("Studies", COHORT, "Sign the data agreement")
    student.picks("open to everyone once accepted")
    student.fills("Sign with your name", "Someone Else")
    student.presses("Sign the data agreement", refused=422)
    student.fills("Sign with your name", job.student_name)
    student.presses("Sign the data agreement")
    lead.goes_to("Studies", COHORT, "Start collecting")
    lead.presses("Start collecting", refused=422)
    lead.reads("has no live induction")
    curator = job.curator
    curator.goes_to("Studies", COHORT)
    induct(job)


def induct(job: Job) -> None:
    """The curator finds the student by the search, and records the induction."""
    curator = job.curator
    curator.page.get_by_role("searchbox").fill(job.student_name)
    curator.page.get_by_role("button", name="Find").click()
    curator.follows(job.student_name)
    curator.follows("Record an induction")
    curator.fills("The place or the work", "the ray pools")
    curator.fills("Given on", str(job.today))
    curator.fills("Holds until", job.last_day)
    curator.presses("Record an induction")
    curator.reads("the ray pools")


def approve(job: Job, kind: str, body: str, chair: str) -> None:
    """Ask one body for one permission with one limit, and have its chair decide."""
    lead = job.lead
    title = f"May three rays be watched, {kind}?"
    lead.goes_to("Studies", COHORT, "Request an approval")
    lead.chooses("Permission", kind)
    lead.chooses("Body that decides", body)
    lead.types(The_question_to_the_body=title, Why_it_should_be_approved="No data held can tell.")
    lead.chooses("Highest severity", "sub-threshold")
    lead.presses("Request an approval")
    lead.follows("Add a limit")
    lead.chooses("Taxon", str(job.pool.taxon))
    lead.chooses("Procedure", job.pool.procedure.name)
    lead.fills("Animals at most", "3")
    lead.presses("Add a limit")
    lead.follows("Submit for decision")
    lead.presses("Submit for decision")
    lead.reads("submitted")
    decider = getattr(job, chair)
    decider.goes_to("Today")
    decider.follows_first(title)
    decider.picks("Approve")
    decider.fills("Reason", "Sound, and little is asked of the rays.")
    decider.presses("Record the decision", refused=422)
    decider.reads("decides with at least 2")
    second = job.cast.member if chair == "chair" else job.cast.ethics_member
    decider.picks(second.name)
    decider.fills("Condition 1", "A keeper is told before each session.")
    decider.presses("Record the decision")
    decider.reads("approved", "A keeper is told before each session.")


def book(job: Job) -> None:
    """Animals are asked for, offered and confirmed; collecting starts; three rays enter."""
    student = job.student
    student.goes_to("Studies", COHORT, "Request a booking")
    student.fills("Which animals", "Three rays that feed well.")
    student.presses("Request a booking")
    student.reads("requested")
    keeper = job.keeper
    keeper.goes_to("Animals", "R-04", "Keep off this animal")
    keeper.fills("What you saw", "Off its food.")
    keeper.presses("Keep off this animal")
    keeper.reads("Off its food.")
    curator = job.curator
    curator.goes_to("Oversight", "Bookings", "Booking 1", "Offer")
    curator.reads("Barred: R-04 is under a restriction")
    curator.picks("R-01", "R-02", "R-03", str(job.pool.place))
    curator.presses("Offer")
    curator.follows("Confirm")
    curator.presses("Confirm")
    curator.reads("confirmed")
    lead = job.lead
    lead.goes_to("Studies", COHORT, "Start collecting")
    lead.presses("Start collecting")
    lead.reads("collecting")
    student.goes_to("Oversight", "Bookings", "Booking 1", "Enrol animals")
    student.reads("May be enrolled")
    student.picks("R-01", "R-02", "R-03")
    student.presses("Enrol animals")
    student.reads("R-01", "enrolled")


def collect(job: Job, time_machine: Any) -> None:
    """A session is planned and held; what was done with another ray is a breach, and explained."""
    student = job.student
    student.goes_to("Studies", COHORT, "Plan the session")
    student.chooses("Where", str(job.pool.place))
    student.types(From=job.at(9, 30), To=job.at(10))
    student.presses("Plan the session")
    student.reads("Session S001")
    time_machine.move_to(job.morning + timedelta(hours=3))
    student.follows("Enter it as held")
    student.types(Began=job.at(9, 30), Ended=job.at(10))
    student.fills("Visitors counted", "40")
    student.presses("Enter it as held")
    student.reads("held", "R-02")
    student.goes_to("Studies", COHORT, "Record a use")
    student.fills("Another animal", "R-04")
    student.fills("When", job.at(11))
    student.presses("Record a use")
    student.reads("were passed", "never enrolled")
    explain(job)


def explain(job: Job) -> None:
    """The lead explains each breach, from the page on which it waits."""
    lead = job.lead
    lead.goes_to("Oversight")
    breaches = lead.main.get_by_role("link", name=re.compile(r"^Breach \d+$"))
    names = sorted(set(breaches.all_inner_texts()))
    # Of no enrolment, under a restriction, and one over the number of each of the two approvals.
    assert names == ["Breach 1", "Breach 2", "Breach 3", "Breach 4"]
    for name in names:
        lead.goes_to("Oversight", name)
        lead.follows("Explain")
        lead.fills("Your explanation", "It came into view by itself, and was left alone.")
        lead.presses("Explain")
        lead.reads("explained")


def table(job: Job, *, is_faulty: bool) -> bytes:
    """Give the scans of today."""
    rows = [f"{n},R-0{1 + n % 2},{job.today},{'SWIM' if n % 2 else 'REST'},{n}.5" for n in (1, 2)]
    rows.append(f"3,R-03,{job.today},{'SLEEP' if is_faulty else 'REST'},1.0")
    return "\n".join(["scan,ray,seen_on,posture,depth", *rows, ""]).encode()


def upload(visitor: Visitor, content: bytes) -> None:
    """Put one file into the deposit that the page shows."""
    file = {"name": "scans.csv", "mimeType": "text/csv", "buffer": content}
    visitor.main.get_by_label("Add files").set_input_files(file)
    visitor.presses("Add them")
    visitor.reads("scans.csv")


def deposit(job: Job) -> None:
    """The student deposits from the phone, reads what is wrong, and mends it."""
    student = job.student
    student.goes_to("Studies", COHORT, "Deposit data")
    student.presses("Deposit data")
    upload(student, table(job, is_faulty=True))
    student.follows("Submit for checking")
    student.presses("Submit for checking")
    student.reads("Being checked")
    work_off_the_queue()
    student.goes_to("Today")
    student.follows_first("See the findings")
    student.reads("Checked: 1 thing to put right", "SLEEP", "posture", "4")
    student.follows("Correct it")
    student.presses("Correct it")
    upload(student, table(job, is_faulty=False))
    student.follows("Submit for checking")
    student.presses("Submit for checking")
    work_off_the_queue()
    steward = job.steward
    steward.goes_to("Today")
    steward.follows_first("Look and accept")
    steward.picks("open")
    steward.presses("Accept")
    steward.reads("version 1.0.0", "posture")
    student.goes_to("Archive", f"{STUDY}, {COHORT}")
    student.reads("Take it away", "Cite")


def answer(job: Job) -> None:
    """The answer goes back; the keeper queries it, hears it again, and acknowledges it."""
    lead = job.lead
    lead.goes_to("Studies", COHORT, "Finish collecting")
    lead.presses("Finish collecting")
    lead.reads("reporting")
    write(job, "On busy days the rays rest a third less.")
    keeper = job.keeper
    keeper.goes_to("Questions", QUESTION)
    keeper.reads("On busy days the rays rest a third less.")
    keeper.follows("Query the answer")
    keeper.fills("What it leaves open", "How long do they rest?")
    keeper.presses("Query the answer")
    keeper.reads("taken on")
    write(job, "On busy days they rest 8 hours, on quiet days 12.")
    keeper.goes_to("Questions", QUESTION, "Acknowledge the answer")
    keeper.presses("Acknowledge the answer")
    keeper.reads("Acknowledged by the keeper’s side: the question is closed.")


def write(job: Job, summary: str) -> None:
    """Write the answer with its evidence and one thing to do differently."""
    lead = job.lead
    lead.goes_to("Questions", QUESTION, "Write the answer")
    lead.types(Plain_summary=summary, How_sure_this_is="Three rays in one pool.")
    lead.picks(f"{STUDY}, {COHORT}, version 1.0.0")
    lead.fills("What to do differently", "Close the near side of the pool at noon")
    lead.presses("Write the answer")
    lead.reads(summary)


def close(job: Job) -> None:
    """The animals leave, the booking is released, the project is closed."""
    student = job.student
    for code in ("R-01", "R-02", "R-03"):
        student.goes_to("Studies", COHORT, code)
        student.follows("Discharge")
        student.presses("Discharge")
        student.reads("discharged")
    curator = job.curator
    curator.goes_to("Oversight", "Bookings", "Booking 1", "Release")
    curator.presses("Release")
    curator.reads("released")
    lead = job.lead
    lead.goes_to("Studies", COHORT, "Close the project")
    lead.reads("Nothing is missing")
    lead.fills("How it went", "As planned.")
    lead.fills("What was learned for refinement", "A shorter net is enough.")
    lead.presses("Close the project")
    lead.reads("closed")


def audit(job: Job) -> None:
    """The auditor reviews the uses as of a day, takes them away, and reads the record."""
    auditor = job.auditor
    auditor.goes_to("Oversight", "Review the use of animals")
    auditor.reads("R-01", "R-04")
    with auditor.page.expect_download() as started:
        auditor.main.get_by_role("link", name="Download these uses as CSV").click()
    rows = Path(started.value.path()).read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + 4
    auditor.fills("Known by", str(job.today - timedelta(days=1)))
    auditor.presses("Show")
    auditor.reads("Nothing was recorded within these bounds.")
    auditor.goes_to("Oversight", "Breach 1")
    auditor.follows("Settle")
    auditor.presses("Settle")
    auditor.reads("settled")
    auditor.goes_to("Oversight", "Ledger")
    auditor.reads("close a project")
    found, _ = check_ledger(with_subjects=True, anchor=None)
    assert list(found) == []
