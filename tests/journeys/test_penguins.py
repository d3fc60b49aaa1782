"""A real open table through the whole job over HTTP: penguins weighed on three islands, 2007–2009.

Source: Gorman, Williams and Fraser 2014, PLoS ONE 9(3): e90081; the raw table of 344 rows and 17
columns as the package palmerpenguins holds it (its licence: CC0).

Its own identity column names the animals. The published table uses 94 of the 190 names again
for a bird of another species; the taxon of an animal here is that of its first row. The islands
are the enclosures. The 50 egg dates are the days of sessions, one for each island that was visited.
"""

import csv
import hashlib
import importlib.resources
import io
import json
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from itertools import count, groupby
from typing import Any

import frictionless
import numpy as np
import palmerpenguins
import pandas as pd
import pytest
import requests

from archive.engine.findings import Verdict
from archive.engine.run import check
from tests.worlds.callers import Caller, caller_of, sign_in, work_off_the_queue
from tests.worlds.cast import Cast, make_cast
from tests.worlds.projects import make_procedure

pytestmark = [pytest.mark.journey, pytest.mark.outside]

RAW = importlib.resources.files("palmerpenguins").joinpath("data/penguins-raw.csv").read_bytes()
TAXA = {
    "Adelie Penguin (Pygoscelis adeliae)": ("Adelie penguin", "Pygoscelis adeliae"),
    "Chinstrap penguin (Pygoscelis antarctica)": ("chinstrap penguin", "Pygoscelis antarctica"),
    "Gentoo penguin (Pygoscelis papua)": ("gentoo penguin", "Pygoscelis papua"),
}
ISLANDS = ("Biscoe", "Dream", "Torgersen")
FIRST, LAST = date(2007, 11, 9), date(2009, 12, 1)
SUMS = re.compile(r'<th scope="row">([^<]+)</th><td class="n" data-h="Contacts">(\d+)</td>')
LEFT_OUT = "N29A1"
"""The one bird that nobody enrolled."""


def _field(name: str, kind: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "type": kind, **more}


def _measure(name: str, unit: str, low: float, high: float) -> dict[str, Any]:
    bounds = {"minimum": low, "maximum": high}
    return _field(name, "number", constraints=bounds, **{"x:unit": unit, "x:role": "outcome"})


def dictionary() -> dict[str, Any]:
    """Describe the table under its published names; bounds are wide guesses of our own."""
    required = {"required": True}
    covariate = {"x:role": "covariate"}
    fields = [
        _field("studyName", "string", constraints={**required, "pattern": "PAL[0-9]{4}"}),
        _field("Sample Number", "integer", constraints={**required, "minimum": 1}),
        _field("Species", "string", categories=list(TAXA), constraints=required, **covariate),
        _field("Region", "string", **covariate),
        _field("Island", "string", constraints=required, **{"x:role": "place"}),
        _field("Stage", "string", **covariate),
        _field("Individual ID", "string", constraints=required, **{"x:role": "animal"}),
        _field("Clutch Completion", "string", constraints={"enum": ["Yes", "No"]}, **covariate),
        _field("Date Egg", "date", constraints=required, **{"x:role": "time"}),
        _measure("Culmen Length (mm)", "mm", 20, 80),
        _measure("Culmen Depth (mm)", "mm", 8, 30),
        _measure("Flipper Length (mm)", "mm", 130, 280),
        _measure("Body Mass (g)", "g", 1500, 9000),
        _field("Sex", "string", constraints={"enum": ["MALE", "FEMALE"]}, **covariate),
        _measure("Delta 15 N (o/oo)", "[ppth]", 5, 12),
        _measure("Delta 13 C (o/oo)", "[ppth]", -30, -20),
        _field("Comments", "string"),
    ]
    schema = {
        "fields": fields,
        "missingValues": ["", "NA"],
        # Samples are numbered anew in each species.
        "primaryKey": ["Species", "Sample Number"],
        "uniqueKeys": [["Individual ID", "Date Egg"]],
    }
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "penguins",
        "title": "Penguins of three islands",
        "resources": [
            {
                "name": "penguins-raw",
                "type": "table",
                "path": "penguins-raw.csv",
                "schema": schema,
            }
        ],
    }


def published() -> pd.DataFrame:
    """Give the table as the package's own reader reads it."""
    return palmerpenguins.load_penguins_raw()


# ------------------------------------------------------------------------------------- the job


@dataclass
class Job:
    """Who calls, and what has come into being so far, by its number."""

    cast: Cast
    address: str
    travel: Callable[[datetime], None]
    table: pd.DataFrame = field(default_factory=published)
    callers: dict[str, Caller] = field(default_factory=dict)
    taxa: dict[str, int] = field(default_factory=dict)
    places: dict[str, int] = field(default_factory=dict)
    birds: dict[str, int] = field(default_factory=dict)
    made: dict[str, int] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Caller:
        return self.callers[name]

    def come_to(self, moment: datetime) -> None:
        """Travel, and give everyone a token, for none lives longer than a year."""
        self.travel(moment)
        names = [name for name in vars(self.cast) if name not in {"committee", "ethics"}]
        self.callers = {name: caller_of(getattr(self.cast, name), self.address) for name in names}

    def species_of(self) -> dict[str, str]:
        """Give the species of each bird: that of its first row."""
        return dict(self.table.groupby("Individual ID")["Species"].first())

    def enrolled(self) -> list[str]:
        """Give the birds that are to be enrolled."""
        return [code for code in self.birds if code != LEFT_OUT]


def day_at(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), UTC)


@pytest.mark.django_db(transaction=True)
def test_the_penguins_go_from_the_question_to_the_audit(
    live_server: Any, time_machine: Any
) -> None:
    now = datetime.now(UTC)
    time_machine.move_to(day_at(date(2007, 11, 1), 9))
    job = Job(make_cast(), live_server.url, time_machine.move_to)
    job.come_to(day_at(date(2007, 11, 1), 10))
    make_collection(job)
    open_and_plan(job)
    permit(job)
    job.travel(day_at(FIRST, 8))
    book_and_enrol(job)
    hold_sessions(job)
    job.come_to(now)
    deposit(job)
    read_back(job)
    answer_and_close(job)
    audit(job)


def make_collection(job: Job) -> None:
    """Three taxa, three islands, 190 birds; each bird lives where its first row has it."""
    for said, (common, scientific) in TAXA.items():
        taxon = {"common_name": common, "scientific_name": scientific, "taxon_class": "bird"}
        job.taxa[said] = job.curator.does("taxa/", **taxon)["id"]
    for name in ISLANDS:
        job.places[name] = job.curator.does("enclosures/", code=name, name=name)["id"]
    first = job.table.drop_duplicates("Individual ID")
    for row in first.to_dict("records"):
        bird = {
            "code": row["Individual ID"],
            "taxon": job.taxa[row["Species"]],
            "sex": "unknown",
            "life_stage": "adult",
            "enclosure": job.places[row["Island"]],
            "arrived_on": "2007-11-01",
        }
        job.birds[bird["code"]] = job.curator.does("animals/", **bird)["id"]
    assert len(job.birds) == 190


def open_and_plan(job: Job) -> None:
    """From the keeper's question to an accepted plan."""
    question = job.keeper.does(
        "questions/",
        title="How do the three penguins differ in size, and males from females?",
        why="Harness and nest box sizes are guessed.",
        would_change="The sizes that we order.",
        animals="penguins",
    )["id"]
    job.curator.does(f"questions/{question}/take_on/", reason="No held data tell.")
    study = job.lead.does(
        "studies/", title="Size of three penguins", aim="Tell by how much.", questions=[question]
    )["id"]
    written = json.dumps(dictionary())
    project = job.lead.does(
        f"studies/{study}/open_project/",
        cohort="2007–09",
        level="doctoral",
        starts_on="2007-11-01",
        ends_on="2009-12-31",
        lead=job.cast.lead.pk,
    )["id"]
    job.made |= {"question": question, "study": study, "project": project}
    published = job.lead.does(f"studies/{study}/write_dictionary/", descriptor=written)
    job.made["dictionary"] = published["id"]
    job.lead.does(f"projects/{project}/assign/", person=job.cast.student.pk, part="student")
    job.made["procedure"] = make_procedure("weighing-measuring").pk
    job.student.does(
        f"projects/{project}/write_plan/",
        experimental_unit="a bird",
        outcome="flipper length",
        outcome_unit="mm",
        sampling_rule="measured",
        recording_rule="not_behaviour",
        number_reason="All birds of the study nests.",
        analysis="One-way analysis of variance over species.",
        data_plan="One row for each bird and egg date.",
        humane_end_points="The bird is let go at the first sign of distress.",
        max_severity=1,
        procedures=[job.made["procedure"]],
        places=list(job.places.values()),
    )
    for said, number in numbers(job).items():
        job.student.does(
            f"projects/{project}/add_arm/",
            name=TAXA[said][0],
            taxon=job.taxa[said],
            units=number,
            animals=number,
        )
    job.lead.does(f"projects/{project}/submit/")
    job.reviewer.does(f"projects/{project}/accept/")


def numbers(job: Job) -> Counter[str]:
    """Give how many birds of each species are enrolled: 189 in all."""
    species = job.species_of()
    counted = Counter(species[code] for code in job.enrolled())
    assert counted.total() == 189
    return counted


def permit(job: Job) -> None:
    """One narrow approval: from the first egg date to the last, and for 189 birds."""
    project = f"projects/{job.made['project']}"
    kinds = {one["code"]: one for one in job.lead.lists("permission-kinds/")}
    needed = {"research-committee", "data-agreement", "induction"}
    for code, kind in kinds.items():
        if kind["is_always_asked"]:
            job.lead.does(
                f"{project}/need/",
                permission=kind["id"],
                is_needed=code in needed,
                reason="" if code in needed else "Told by nothing in the table.",
            )
    approval = job.lead.does(
        f"{project}/request_approval/",
        permission=kinds["research-committee"]["id"],
        body=job.cast.committee.pk,
        title="May 189 penguins be weighed and measured?",
        case="The question has an answer that no held data give.",
        starts_on=str(FIRST),
        ends_on=str(LAST),
        weekdays=list("1234567"),
        max_severity=1,
        places=list(job.places.values()),
    )["id"]
    for said, number in numbers(job).items():
        job.lead.does(
            f"approvals/{approval}/add_limit/",
            taxon=job.taxa[said],
            procedure=job.made["procedure"],
            max_animals=number,
            max_contacts_each=3,
        )
    refused = job.lead.is_refused(422, f"approvals/{approval}/submit/")
    assert "Nobody has screened" in refused["why"]
    for said in numbers(job):
        job.chair.does(
            f"{project}/screen/",
            procedure=job.made["procedure"],
            taxon=job.taxa[said],
            life_stage="adult",
            jurisdiction="other",  # the islands are under no law that is held
            purpose="scientific",
            effect="below",
            answer="not regulated",
            reason="Asked the authority of the place: ringed birds, weighed in a bag.",
        )
    job.lead.does(f"approvals/{approval}/submit/")
    job.chair.does(
        f"approvals/{approval}/approve/",
        reason="Sound.",
        deciders=[job.cast.chair.pk, job.cast.member.pk],
    )
    job.made["approval"] = approval
    job.student.does(f"{project}/sign_agreement/", terms="open", signed_name=job.cast.student.name)
    job.curator.does(
        f"people/{job.cast.student.pk}/induct/",
        about="the islands",
        given_on="2007-11-01",
        expires_on="2009-12-31",
    )
    # The approval begins with the first egg date, and not a day before.
    refusal = job.lead.is_refused(422, f"{project}/start/")
    assert "begins on 9 Nov 2007" in refusal["why"]


def book_and_enrol(job: Job) -> None:
    """All birds are booked; 189 of them are enrolled, under their own names."""
    project = f"projects/{job.made['project']}"
    job.lead.does(f"{project}/start/")
    days = {"starts_on": str(FIRST), "ends_on": str(LAST)}
    booking = job.student.does(f"{project}/request_booking/", wish="All.", **days)["id"]
    offered = job.curator.does(
        f"bookings/{booking}/offer/",
        animals=list(job.birds.values()),
        places=list(job.places.values()),
        **days,
    )
    job.curator.does(f"bookings/{booking}/confirm/")
    species = job.species_of()
    named = {number: code for code, number in job.birds.items()}
    subjects = {named[one["animal"]]: one["id"] for one in offered["subjects"]}
    refusal = job.student.is_refused(
        422, f"bookings/{booking}/enrol/", subjects=list(subjects.values()), from_on=str(FIRST)
    )
    # The 190th is one too many, of whichever species it is.
    assert "allows" in refusal["why"]
    plan = job.student.sees(f"{project}/")["plan"]
    for arm in plan["arms"]:
        of_arm = [code for code in job.enrolled() if job.taxa[species[code]] == arm["taxon"]]
        job.student.does(
            f"bookings/{booking}/enrol/",
            subjects=[subjects[code] for code in of_arm],
            from_on=str(FIRST),
            arm=arm["id"],
        )
    job.made["booking"] = booking
    enrolments = job.student.lists("enrolments/", project=job.made["project"])
    assert {one["code"] for one in enrolments} == set(job.enrolled())
    job.made |= {one["code"]: one["id"] for one in enrolments}


def hold_sessions(job: Job) -> None:
    """On each of the 50 egg dates the birds of each island are weighed; then all are let go."""
    project = f"projects/{job.made['project']}"
    rows = sorted(
        zip(job.table["Date Egg"], job.table["Island"], job.table["Individual ID"], strict=True)
    )
    days = set()
    for (said, island), seen in groupby(rows, key=lambda row: row[:2]):
        day = date.fromisoformat(said)
        if day not in days and (not days or day.year != max(days).year):
            job.come_to(day_at(day, 8))
        days.add(day)
        job.travel(day_at(day, 8))
        birds = [job.made[code] for _, _, code in seen if code != LEFT_OUT]
        when = {"start": day_at(day, 9).isoformat(), "end": day_at(day, 11).isoformat()}
        session = job.student.does(
            f"{project}/plan_session/",
            code=f"{said}-{island}",
            place=job.places[island],
            planned_start=when["start"],
            planned_end=when["end"],
            observers=[job.cast.student.pk],
            enrolments=birds,
        )["id"]
        job.travel(day_at(day, 12))
        held = job.student.does(
            f"sessions/{session}/hold/",
            started_at=when["start"],
            ended_at=when["end"],
            enrolments=birds,
            procedure=job.made["procedure"],
        )
        assert held["state"] == "held"
    assert len(days) == 50
    assert job.auditor.lists("breaches/") == []
    for code in job.enrolled():
        job.student.does(
            f"enrolments/{job.made[code]}/discharge/", left_on=str(LAST), actual_severity=1
        )


def deposit(job: Job) -> None:
    """The package's own file is deposited as it stands; one bird in it was never enrolled."""
    project = f"projects/{job.made['project']}"
    made = job.student.does(f"{project}/deposit/", dictionary=job.made["dictionary"])["id"]
    files = [("files", ("penguins-raw.csv", RAW, "text/csv"))]
    job.student.does(f"deposits/{made}/add_file/", files=files)
    job.student.does(f"deposits/{made}/submit/")
    work_off_the_queue()
    report = job.student.sees(f"deposits/{made}/report/")
    assert report["verdict"] == "valid"
    assert report["tables"][0]["rows"] == 344
    blocking = [one for one in report["counts"] if one["group"] == "table"]
    of_register = [one for one in report["counts"] if one["group"] == "register"]
    seen = int((job.table["Individual ID"] == LEFT_OUT).sum())
    assert blocking == []
    assert of_register == [{"group": "register", "code": "not-enrolled", "count": seen}]
    (breach,) = job.auditor.lists("breaches/")
    assert breach["code"] == "not-enrolled"
    assert LEFT_OUT in breach["said"]
    job.lead.does(f"breaches/{breach['id']}/explain/", explanation="Its ring was read wrongly.")
    job.lead.does(f"{project}/finish/")
    accepted = job.steward.does(f"deposits/{made}/accept/", licence="CC0-1.0", access="open")
    job.made["version"] = accepted["id"]


def read_back(job: Job) -> None:
    """Anyone reads the version by its address, and finds the published numbers in it."""
    anyone = Caller(job.address)
    page = anyone.sees(f"versions/{job.made['version']}/")["url"]
    package = anyone.sees(f"{page}datapackage.json")
    (resource,) = package["resources"]
    address = f"{job.address}{page}{resource['path']}"
    served = requests.get(address, timeout=60).content
    assert served == RAW
    assert resource["hash"] == f"sha256:{hashlib.sha256(served).hexdigest()}"
    table = pd.read_csv(address)
    assert table.shape == (344, 17)
    pd.testing.assert_frame_equal(table, job.table)
    means, ratio, within = flippers(table)
    # The documentation of palmerpenguins (allisonhorst.github.io/palmerpenguins).
    assert means == [189.95, 195.82, 217.19]
    # From memory: F(2, 339) = 594.8.
    assert (round(ratio, 1), within) == (594.8, 339)
    # The real client of the standard, by address.
    told = frictionless.validate(f"{job.address}{page}datapackage.json")
    assert told.valid, told.flatten(["type", "message"])
    assert told.tasks[0].stats["rows"] == 344


def flippers(table: pd.DataFrame) -> tuple[list[float], float, int]:
    """Give the mean flipper of each species, and F of the one-way analysis with its lower d.f."""
    whole = table.dropna(subset=["Flipper Length (mm)"])
    groups = [
        rows["Flipper Length (mm)"].to_numpy() for _, rows in whole.groupby("Species", sort=True)
    ]
    every = np.concatenate(groups)
    between = sum(len(one) * (one.mean() - every.mean()) ** 2 for one in groups)
    within = sum(((one - one.mean()) ** 2).sum() for one in groups)
    lower = len(every) - len(groups)
    ratio = (between / (len(groups) - 1)) / (within / lower)
    return [round(float(one.mean()), 2) for one in groups], float(ratio), lower


def answer_and_close(job: Job) -> None:
    """The answer rests on the version; the keeper acknowledges it, and the project is closed."""
    job.lead.does(
        f"questions/{job.made['question']}/answer/",
        study=job.made["study"],
        summary="Flippers: Adelie 190, chinstrap 196, gentoo 217 mm.",
        sureness="342 measurements in three seasons; a name may stand for more than one bird.",
        evidence=[job.made["version"]],
    )
    told = job.keeper.does(f"questions/{job.made['question']}/acknowledge/")
    assert told["state"] == "acknowledged"
    job.curator.does(f"bookings/{job.made['booking']}/release/")
    closed = job.lead.does(
        f"projects/{job.made['project']}/close/",
        text="As planned.",
        learned="A shorter net is enough.",
    )
    assert closed["state"] == "closed"


def audit(job: Job) -> None:
    """The auditor's sums by bird are the table's own counts, but for the bird left out."""
    expected = Counter(job.table["Individual ID"])
    del expected[LEFT_OUT]
    assert (len(expected), expected.total()) == (189, 341)
    with requests.Session() as browser:
        sign_in(browser, job.address, job.cast.auditor)
        asked = {"project": job.made["project"], "approval": job.made["approval"]}
        answer = browser.get(f"{job.address}/oversight/review/uses.csv", params=asked, timeout=60)
        rows = list(csv.DictReader(io.StringIO(answer.text)))
        assert Counter(row["animal"] for row in rows) == expected
        sums: list[tuple[str, str]] = []
        for number in count(1):
            shown = {**asked, "by": "animal", "sums": number, "since": "2007-01-01"}
            page = browser.get(f"{job.address}/oversight/review/", params=shown, timeout=60).text
            sums += SUMS.findall(page)
            if "Sums after" not in page:
                break
        assert len(sums) == len(expected)
        assert Counter({code: int(sum_) for code, sum_ in sums}) == expected
        in_2008 = {"since": "2008-01-01", "happened_by": "2008-12-31"}
        answer = browser.get(
            f"{job.address}/oversight/review/uses.csv", params={**asked, **in_2008}, timeout=60
        )
        rows = list(csv.DictReader(io.StringIO(answer.text)))
    of_2008 = job.table[job.table["Date Egg"].str.startswith("2008")]["Individual ID"]
    expected = Counter(of_2008)
    del expected[LEFT_OUT]
    assert Counter(row["animal"] for row in rows) == expected


# -------------------------------------------------------------------------- one fault in each copy


def cell(row: int, column: str, value: str) -> Callable[[list[list[str]]], None]:
    """Write a value into one cell; rows are counted as a spreadsheet does."""

    def spoil(rows: list[list[str]]) -> None:
        rows[row - 1][rows[0].index(column)] = value

    return spoil


def copy_cells(row: int, source: int, *columns: str) -> Callable[[list[list[str]]], None]:
    """Write the values of another row into some cells."""

    def spoil(rows: list[list[str]]) -> None:
        for column in columns:
            at = rows[0].index(column)
            rows[row - 1][at] = rows[source - 1][at]

    return spoil


def extra(rows: list[list[str]]) -> None:
    rows[99].append("surplus")


def missing(rows: list[list[str]]) -> None:
    del rows[99][-2:]


def blank(rows: list[list[str]]) -> None:
    rows.insert(99, [""] * len(rows[0]))


def no_column(rows: list[list[str]]) -> None:
    for row in rows:
        del row[-1]


def strange_column(rows: list[list[str]]) -> None:
    for number, row in enumerate(rows):
        row.append("Weather" if number == 0 else "")


def renamed(rows: list[list[str]]) -> None:
    rows[0][3] = "Area"


def twice(rows: list[list[str]]) -> None:
    rows[0][3] = "Species"


def unnamed(rows: list[list[str]]) -> None:
    rows[0][3] = ""


FAULTS = [
    ("type-error", 100, "Body Mass (g)", cell(100, "Body Mass (g)", "heavy")),
    ("type-error", 100, "Date Egg", cell(100, "Date Egg", "16/11/2008")),
    ("constraint-error", 100, "Body Mass (g)", cell(100, "Body Mass (g)", "37500")),
    ("constraint-error", 100, "Sex", cell(100, "Sex", "male")),
    ("constraint-error", 100, "studyName", cell(100, "studyName", "PAL809")),
    ("constraint-error", 100, "Individual ID", cell(100, "Individual ID", "NA")),
    ("category-error", 100, "Species", cell(100, "Species", "Adelie")),
    (
        "primary-key",
        100,
        "Species, Sample Number",
        copy_cells(100, 99, "Species", "Sample Number"),
    ),
    (
        "unique-keys",
        100,
        "Individual ID, Date Egg",
        copy_cells(100, 99, "Individual ID", "Date Egg"),
    ),
    ("extra-cell", 100, "", extra),
    ("missing-cell", 100, "Delta 13 C (o/oo)", missing),
    ("blank-row", 100, "", blank),
    ("missing-label", 1, "Comments", no_column),
    ("extra-label", 1, "", strange_column),
    ("incorrect-label", 1, "Region", renamed),
    ("duplicate-label", 1, "Region", twice),
    ("blank-label", 1, "Region", unnamed),
]
ALSO = {"blank-row": {"primary-key"}}  # an empty row has no key either


def in_latin_1(text: str) -> bytes:
    lines = text.encode().splitlines(keepends=True)
    lines[99] = lines[99].replace(b"Adelie", "Adélie".encode("latin-1"))
    return b"".join(lines)


BYTES = [
    ("encoding-error", 100, in_latin_1),
    ("unclosed-quote", 345, lambda text: f'{text.rstrip()}"\n'.encode().replace(b',NA"', b',"NA')),
    ("nul-character", 2, lambda text: text.replace("Anvers", "Anv\x00ers", 1).encode()),
]


@pytest.fixture
def judge(tmp_path: Any) -> Callable[[bytes], Any]:
    def judged(content: bytes) -> Any:
        (tmp_path / "penguins-raw.csv").write_bytes(content)
        return check(tmp_path, descriptor=dictionary())

    return judged


def test_the_published_table_itself_is_valid(judge: Callable[[bytes], Any]) -> None:
    report = judge(RAW)
    assert report.verdict is Verdict.VALID
    assert [one for one in report.findings if one.group == "table"] == []
    assert report.tables[0].sha256 == hashlib.sha256(RAW).hexdigest()


@pytest.mark.parametrize(
    ("code", "row", "column", "spoil"), FAULTS, ids=[f"{one[0]}-{one[2]}" for one in FAULTS]
)
def test_one_spoiled_row_is_the_one_finding(
    judge: Callable[[bytes], Any],
    code: str,
    row: int,
    column: str,
    spoil: Callable[[list[list[str]]], None],
) -> None:
    rows = list(csv.reader(io.StringIO(RAW.decode())))
    spoil(rows)
    written = io.StringIO(newline="")
    csv.writer(written, lineterminator="\n").writerows(rows)
    report = judge(written.getvalue().encode())
    found = [(one.code, one.row, one.field) for one in report.findings if one.group == "table"]
    assert report.verdict is Verdict.INVALID
    assert found[0] == (code, row, column)
    assert {one[0] for one in found} - ALSO.get(code, set()) == {code}


@pytest.mark.parametrize(("code", "row", "spoil"), BYTES, ids=[one[0] for one in BYTES])
def test_spoiled_bytes_are_told_with_their_row(
    judge: Callable[[bytes], Any], code: str, row: int, spoil: Callable[[str], bytes]
) -> None:
    report = judge(spoil(RAW.decode()))
    found = [(one.code, one.row) for one in report.findings if one.group == "table"]
    assert report.verdict is Verdict.INVALID
    assert found[0] == (code, row)
