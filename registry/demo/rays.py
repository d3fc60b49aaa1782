"""Resting places of undulate rays: watched from the gallery, and one lifted against the rule."""

from registry.demo import deposits
from registry.demo.cohorts import (
    Ask,
    Booked,
    Cohort,
    Line,
    Sitting,
    book,
    enrol,
    prepare,
    sit,
    use,
)
from registry.demo.diary import Diary
from registry.demo.tables import scans_of_rays
from registry.demo.world import World

_ARM = "the dimmer half moved by lot"
_RAYS = {"loveday": "ray-2", "morwen": "ray-7", "skerry": "ray-9", "tamsin": "ray-10"}

COHORT = Cohort(
    key="rays-1",
    study="rays",
    level="taught_masters",
    lead="ingrid",
    student="sunniva",
    opened="2026-04-13",
    starts="2026-05-11",
    ends="2026-12-18",
    hours=0.5,
    procedures=("watching-outside",),
    places=("2",),
    arms=((_ARM, "ray", 1, 4),),
    asks=(
        Ask(
            title="May four undulate rays be watched while the dimmer half of tank 2 is moved?",
            case="The lamps are dimmed in one half, drawn by lot for the week; the rays are "
            "watched from the gallery and never touched.",
            harms="A person stands at the rail.",
            benefits="Which lamps are dimmed, and where the visitors' window is.",
            ends="2027-01-29",
            decision="Watching only. In spring and summer nobody goes into the water.",
            limits=(Line("watching-outside", "ray", "adult", 5),),
            conditions=(("Observation only from 1 April to 31 August, house rule 6", None),),
        ),
    ),
    begins="2026-05-11 09:00",
    remarks="One tank: days are the unit, and nothing is said of other tanks.",
    not_needed=("licence", "owners-consent", "risk-assessment", "university-ethics"),
)

_DAYS = (
    ("2026-05-25", "channel"), ("2026-06-01", "window"), ("2026-06-08", "channel"),
    ("2026-06-11", "channel"), ("2026-07-06", "window"), ("2026-08-10", "channel"),
    ("2026-09-07", "window"), ("2026-10-05", "channel"), ("2026-11-02", "window"),
    ("2026-11-20", "channel"),
)  # fmt: skip


def write(diary: Diary, world: World) -> None:
    """Write the cohort into the diary."""
    deposits.publish(diary, world, "2026-05-11 15:00", "rays", 1, "The first one.", "ingrid")
    prepare(diary, world, COHORT)
    booked = Booked(
        key=COHORT.key,
        wish="The four females of the channel, from the gallery only.",
        starts="2026-05-12",
        ends=COHORT.ends,
        animals=tuple(_RAYS),
        places=("2",),
        enrols=tuple((key, _ARM, "tank 2", code) for key, code in _RAYS.items()),
    )
    book(diary, world, COHORT, booked, "2026-05-11")
    enrol(diary, world, COHORT, booked, "2026-05-12 09:00")
    held = []
    for at, (day, dimmer) in enumerate(_DAYS, 1):
        code = f"R{at:02}"
        # Skerry was to be left alone in that week.
        seen = [one for key, one in _RAYS.items() if key != "skerry" or at < len(_DAYS)]
        sitting = Sitting(
            code, day, "10:00", "10:30", "2", tuple(seen), "watching-outside",
            visitors=12 + 9 * at % 40, notes=f"Dimmer half: {dimmer}.",
        )  # fmt: skip
        sit(diary, world, COHORT, sitting)
        held.append((code, day, dimmer))
    diary.at("2026-06-12 12:00", _lifted, world)
    tables = scans_of_rays(diary.story, held[:4], tuple(_RAYS.values()))
    deposits.deposit(
        diary, world, "2026-06-14 17:00", COHORT.key, COHORT, "rays-1", tables, "Spring."
    )
    deposits.accepted(diary, world, "2026-06-22 10:00", COHORT.key)


def _lifted(world: World) -> None:
    use(
        world,
        COHORT,
        "ray-7",
        "weighing-measuring",
        "2026-06-12 11:10",
        note="Lifted out to measure the disc, 612 mm.",
    )
