"""What was told of studies: answers with figures, what keepers did, outputs, what was taken."""

from archive.models import Taken
from archive.taking import count
from registry.answers import actions as answers
from registry.answers.models import HusbandryAction
from registry.demo.cohorts import project_of
from registry.demo.diary import Diary
from registry.demo.world import World

_OUTPUTS = (
    (
        "2025-05-06 10:00", "eggs-1", "poster",
        "More flow, more hatchlings: cuttlefish egg strings in a nursery",
        "Meeting of northern aquaria", ("eggs-1c",),
    ),
    (
        "2026-04-20 09:00", "pebbles-1", "talk",
        "What a gentoo does with its day when pebbles are few",
        "Keepers’ morning of Skerrywick Aquarium", ("pebbles-1",),
    ),
    (
        "2026-09-30 10:00", "substrate-3", "dissertation",
        "Which floor do juvenile cuttlefish settle on? Three cohorts together",
        "Norrholm University", ("substrate-1", "substrate-2", "substrate-3"),
    ),
    (
        "2026-10-21 10:00", "substrate-3", "paper",
        "Sand first: floors chosen by juvenile cuttlefish in three years",
        "Norrholm Letters on Animals in Care", ("substrate-1", "substrate-2", "substrate-3"),
    ),
)  # fmt: skip
_TAKEN = (
    ("2025-04-15 12:00", "eggs-1c", Taken.Form.PACKAGE, 4),
    ("2025-10-09 12:00", "eggs-1c", Taken.Form.TABLE, 7),
    ("2026-02-10 12:00", "eggs-2", Taken.Form.PACKAGE, 3),
    ("2026-08-04 12:00", "substrate-3", Taken.Form.TABLE, 6),
    ("2026-09-14 12:00", "pebbles-1", Taken.Form.PACKAGE, 2),
)


def write(diary: Diary, world: World) -> None:
    """Write into the diary what was told, what was done of it, and what came out."""
    diary.at("2026-03-09 10:00", _answer_pebbles, world)
    diary.at("2026-03-11 08:30", _acknowledge_pebbles, world)
    diary.at("2026-03-16 09:00", _owner, world, 2, 0, "bryn")
    diary.at("2026-03-16 09:10", _owner, world, 2, 1, "bryn")
    diary.at("2026-09-02 17:00", _said, world, 2, 0, "Since August; the barrows are marked.", True)
    diary.at(
        "2026-09-03 08:50", _said, world, 2, 1,
        "Two pairs already carry all day; the shore is not to run out to please a count.", False,
    )  # fmt: skip
    diary.at("2026-07-03 09:00", _answer_rays, world)
    diary.at("2026-07-06 09:00", _owner, world, 17, 0, "tam")
    diary.at("2026-09-11 09:00", _owner, world, 1, 1, "tam")
    for moment, *output in _OUTPUTS:
        diary.at(moment, _output, world, *output)
    for moment, key, form, times in _TAKEN:
        diary.at(moment, _taken, world, key, form, times)


def _answer_pebbles(world: World) -> None:
    """Tell of data that are under embargo: the lead supervisor releases the figure with it."""
    answers.answer_question(
        world.questions[2],
        study=world.studies["pebbles"],
        summary="It moves a good part of the day. In weeks of plenty the birds placed pebbles "
        "about twice as often, walked less than half as much and rested a little more; taking "
        "from one another fell from one look in twenty-five to one in a hundred.",
        told=answers.Told(
            done="Nine pairs were watched from the hide over sixteen weeks, weeks of few and of "
            "plenty in turn; every fifth minute each bird’s doing was written down.",
            left_open="Whether it is so in a second year, and whether chicks fare otherwise.",
            analysis=world.analyses["pebbles-budget"],
            is_figure_released=True,
        ),
        sureness="Eighteen birds of nine pairs, one shore, one season. Pebbles on the nests did "
        "not differ beyond chance.",
        evidence=[world.versions["pebbles-1"]],
        husbandry=[
            ("Two barrows a week from nest building on, not one", world.story.day("2026-08-31")),
            ("No new pebbles in the week in which nests are counted", None),
        ],
        by=world.people["ingrid"],
    )


def _acknowledge_pebbles(world: World) -> None:
    answers.acknowledge_answer(world.questions[2], by=world.people["bryn"])


def _answer_rays(world: World) -> None:
    answers.answer_question(
        world.questions[17],
        study=world.studies["rays"],
        summary="More by the dark than by the place, as far as four days tell. The rays lay in "
        "the half whose lamps were dimmed at two looks of three; when the dimmer half was moved "
        "to the window most of them moved with it.",
        told=answers.Told(
            done="Four rays of tank 2 were looked at three times in each of four sessions in "
            "spring; which half was dimmed was drawn by lot.",
            left_open="Autumn and winter, which are still being watched.",
            analysis=world.analyses["rays-space"],
        ),
        sureness="Weak: four days are the units, in one tank. The figure shows the halves, not the "
        "lamps.",
        evidence=[world.versions["rays-1"]],
        husbandry=[
            ("Keep the lamps over the channel dimmed until autumn", world.story.day("2026-10-02")),
            ("Leave the visitors’ window where it is until winter is watched", None),
        ],
        by=world.people["ingrid"],
    )


def _action(world: World, number: int, place: int) -> HusbandryAction:
    answer = world.questions[number].answers.get()
    action: HusbandryAction = answer.actions.order_by("pk")[place]
    return action


def _owner(world: World, number: int, place: int, owner: str) -> None:
    answers.give_action(
        _action(world, number, place), owner=world.people[owner], by=world.people["isolde"]
    )


def _said(world: World, number: int, place: int, outcome: str, is_done: bool) -> None:
    answers.say_done(
        _action(world, number, place), is_done=is_done, outcome=outcome, by=world.people["bryn"]
    )


def _output(
    world: World, key: str, sort: str, title: str, where: str, versions: tuple[str, ...]
) -> None:
    project = project_of(world, key)
    students = project.members.filter(part="student").select_related("person")
    answers.add_output(
        project,
        sort=sort,
        title=title,
        authors=", ".join(one.person.name for one in students),
        published_on=world.today(),
        where=where,
        versions=[world.versions[one] for one in versions],
        by=students[0].person,
    )


def _taken(world: World, key: str, form: Taken.Form, times: int) -> None:
    for _time in range(times):
        count(world.versions[key], form)
