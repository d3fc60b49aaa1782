"""The words used here: the trade's own, each with what it means on these pages."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Word:
    """A word and its meaning here."""

    word: str
    meaning: str


@dataclass(frozen=True)
class Theme:
    """Words that belong together."""

    heading: str
    words: tuple[Word, ...]


def _theme(heading: str, *pairs: tuple[str, str]) -> Theme:
    return Theme(heading, tuple(Word(*pair) for pair in pairs))


WORDS: tuple[Theme, ...] = (
    _theme(
        "From question to answer",
        ("research question", "What someone in the collection wants to know, and what it changes."),
        (
            "triage",
            (
                "The curator's sorting of a question: taken on, merged, answered from data already "
                "held, parked or declined, always with a reason that the asker can read."
            ),
        ),
        ("study", "A long-lived line of work. It takes on questions and owns the dictionary."),
        (
            "project",
            "One approved piece of work in a study, with one lead supervisor and its dates.",
        ),
        ("cohort", "The label of a project among others of its study, such as an academic year."),
        (
            "plan",
            "How a project is to be done: unit, numbers, allocation, schedule, outcome, analysis.",
        ),
        (
            "design review",
            "A reading of the plan by a supervisor who is no member, before anything is approved.",
        ),
        (
            "plain summary",
            "What was found, in words for those who asked, with how sure it is and its evidence.",
        ),
        (
            "answered, acknowledged",
            (
                "Answered means that an answer was written. The question is closed only when the "
                "keeper's side has acknowledged it."
            ),
        ),
    ),
    _theme(
        "Permission",
        (
            "permission",
            "Any approval, licence, consent or agreement without which work may not go on.",
        ),
        (
            "approval",
            (
                "A body's permission as a set of limits: taxa, numbers, procedures, places, "
                "people, days and severity. Its states: drafted, submitted, approved, refused, "
                "suspended, withdrawn, closed. That it has expired follows from its last day."
            ),
        ),
        ("limit", "How many animals, how often, by which procedure, and no more."),
        ("condition", "What the body asks besides, with the day by which evidence is due."),
        (
            "amendment",
            "A request to change an approval; it takes the old one's place when approved.",
        ),
        (
            "screening",
            (
                "A first look at whether work may pass the threshold of regulation. It warns; a "
                "named person decides."
            ),
        ),
        (
            "threshold, protected animal, regulated procedure",
            (
                "Words of the law on the protection of animals used for science. What they cover "
                "differs from place to place: ask the named people and your authority."
            ),
        ),
        (
            "severity, prospective and actual",
            "How much an animal is expected to go through, and how much it did.",
        ),
    ),
    _theme(
        "Animals",
        ("taxon", "A kind of animal, by its common and its scientific name."),
        ("group", "Animals that are counted and not told apart: a shoal, a clutch, a colony."),
        (
            "stocklist",
            "What the collection held on a day, with arrivals and departures between days.",
        ),
        ("departure", "That an animal left the collection alive; a death stands by itself."),
        ("dam, sire", "Mother and father, each with the evidence for it."),
        ("clutch, egg case", "Eggs laid together; the case in which one egg or several lie."),
        (
            "restriction",
            (
                "Keep off: quarantine, treatment, gravid, rearing, moult, acclimating, transfer, "
                "or because an animal looks wrong. It bars until it is ended."
            ),
        ),
        ("booking", "Animals, places and dates that the curator offers to a project."),
        ("enrolment", "That an animal is in a project, under the code by which its data name it."),
        ("withdrawal", "That an animal was taken out of a project before its end."),
        ("discharge", "That an animal's part in a project ended as planned."),
        ("use", "One contact with an animal, or one observation of it, as it was recorded."),
        (
            "re-use of an animal",
            "That an animal is used again in other work. Not to be mixed up with data reuse.",
        ),
        ("lifetime experience", "All that an animal went through, over all projects and years."),
        ("out of bounds", "Barred from all research today, on the animal, its group or its place."),
    ),
    _theme(
        "Design",
        (
            "experimental unit",
            (
                "What a treatment is given to by itself, whatever the number of animals in it: an "
                "animal, a tank, an egg string."
            ),
        ),
        ("observational unit", "What is measured or watched; several may stand in one unit."),
        ("replicate", "One of several experimental units that were treated alike."),
        ("allocation", "Which unit gets which treatment, drawn at random."),
        ("sampling rule", "Which animals are watched, and when: focal, scan, all occurrences."),
        ("recording rule", "How it is written down: continuous, instantaneous, one-zero."),
        (
            "ethogram",
            "The list of behaviours with a definition for each by which two observers agree.",
        ),
        (
            "session",
            "A stretch of observation or work at one enclosure, planned, then held or missed.",
        ),
    ),
    _theme(
        "Data",
        (
            "data dictionary",
            (
                "What each column means, with its type, unit and codes; a study's dictionary has "
                "versions."
            ),
        ),
        ("deposit", "Data on their way in: uploaded, checked, corrected, and accepted in the end."),
        ("dataset", "All data of one project, kept as versions of which none is ever changed."),
        ("version", "An accepted state of a dataset, with an identifier, a citation and digests."),
        ("embargo", "Days until which only those named may read a version."),
        ("data reuse", "That others use data again; the version is named and cited."),
        ("withdrawn version", "One that is no longer handed out. Its page stays, and says why."),
    ),
    _theme(
        "When something goes wrong",
        (
            "humane end-point",
            "The sign at which one animal is taken out, whatever the study still wanted.",
        ),
        ("stopping rule", "When the whole project stops."),
        (
            "halt",
            (
                "Collecting stops for welfare. Anyone may ask for it; only the veterinary surgeon "
                "and the body together lift it."
            ),
        ),
        ("adverse event", "Harm to an animal that was not expected."),
        ("deviation", "What was done otherwise than planned."),
        (
            "breach",
            (
                "Something that happened outside a limit. It is recorded all the same, explained "
                "by the lead supervisor, and settled by others."
            ),
        ),
        (
            "concern",
            "A worry that anyone may raise, by name or not; only those who handle it see it.",
        ),
    ),
    _theme(
        "The record",
        ("deed", "Something that a person did here: it is permitted, checked and recorded."),
        (
            "ledger",
            (
                "The list of all deeds in their order. Nothing in it is changed; a correction is a "
                "deed of its own."
            ),
        ),
        ("standing", "What a person is to the site: keeper, curator, supervisor and so on."),
        ("as of", "What had happened by one day, as far as it was known by another."),
        ("late entry", "What was recorded longer after it happened than the house allows."),
        ("audit point", "What an auditor wrote that must be answered."),
    ),
)
