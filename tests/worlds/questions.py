"""Questions for the tests."""

from registry.people.models import Person
from registry.permissions import Role
from registry.questions import actions
from registry.questions.models import Question
from tests.worlds.people import make_person


def make_question(*, asker: Person | None = None, title: str = "") -> Question:
    """Give a posted question."""
    return actions.post_question(
        title=title or "Would more flow bring the egg strings to hatch sooner?",
        why="Strings laid together came out three weeks apart.",
        would_change="The order of the blowers.",
        animals="cuttlefish egg strings",
        by=asker or make_person(Role.KEEPER),
    )


def make_taken_on(*, asker: Person | None = None) -> Question:
    """Give a question that the curator took on."""
    return actions.take_on_question(
        make_question(asker=asker), reason="No held data tell.", by=make_person(Role.CURATOR)
    )
