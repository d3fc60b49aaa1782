"""The words used here: the trade's own, each with what it means on these pages."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from registry.web import Words


@dataclass(frozen=True)
class Word:
    """A word and its meaning here."""

    word: Words
    meaning: Words


@dataclass(frozen=True)
class Theme:
    """Words that belong together."""

    heading: Words
    words: tuple[Word, ...]


def _theme(heading: Words, *pairs: tuple[Words, Words]) -> Theme:
    return Theme(heading, tuple(Word(*pair) for pair in pairs))


WORDS: tuple[Theme, ...] = (
    _theme(
        _("From question to answer"),
        (
            _("research question"),
            _("What someone in the collection wants to know, and what it changes."),
        ),
        (
            _("triage"),
            _(
                "The curator's sorting of a question: taken on, merged, answered from data already "
                "held, parked or declined, always with a reason that the asker can read."
            ),
        ),
        (
            _("study"),
            _("A long-lived line of work. It takes on questions and owns the dictionary."),
        ),
        (
            _("project"),
            _("One approved piece of work in a study, with one lead supervisor and its dates."),
        ),
        (
            _("cohort"),
            _("The label of a project among others of its study, such as an academic year."),
        ),
        (
            _("plan"),
            _(
                "How a project is to be done: unit, numbers, allocation, schedule, outcome, "
                "analysis."
            ),
        ),
        (
            _("design review"),
            _(
                "A reading of the plan by a supervisor who is no member, before anything is "
                "approved."
            ),
        ),
        (
            _("plain summary"),
            _(
                "What was found, in words for those who asked, with how sure it is and its "
                "evidence."
            ),
        ),
        (
            _("answered, acknowledged"),
            _(
                "Answered means that an answer was written. The question is closed only when the "
                "keeper's side has acknowledged it."
            ),
        ),
    ),
    _theme(
        _("Permission"),
        (
            _("permission"),
            _("Any approval, licence, consent or agreement without which work may not go on."),
        ),
        (
            _("approval"),
            _(
                "A body's permission as a set of limits: taxa, numbers, procedures, places, "
                "people, days and severity. Its states: drafted, submitted, approved, refused, "
                "suspended, withdrawn, closed. That it has expired follows from its last day."
            ),
        ),
        (_("limit"), _("How many animals, how often, by which procedure, and no more.")),
        (_("condition"), _("What the body asks besides, with the day by which evidence is due.")),
        (
            _("amendment"),
            _("A request to change an approval; it takes the old one's place when approved."),
        ),
        (
            _("screening"),
            _(
                "A first look at whether work may pass the threshold of regulation. It warns; a "
                "named person decides."
            ),
        ),
        (
            _("threshold, protected animal, regulated procedure"),
            _(
                "Words of the law on the protection of animals used for science. What they cover "
                "differs from place to place: ask the named people and your authority."
            ),
        ),
        (
            _("severity, prospective and actual"),
            _("How much an animal is expected to go through, and how much it did."),
        ),
    ),
    _theme(
        _("Animals"),
        (_("taxon"), _("A kind of animal, by its common and its scientific name.")),
        (
            _("group"),
            _("Animals that are counted and not told apart: a shoal, a clutch, a colony."),
        ),
        (
            _("stocklist"),
            _("What the collection held on a day, with arrivals and departures between days."),
        ),
        (_("departure"), _("That an animal left the collection alive; a death stands by itself.")),
        (_("dam, sire"), _("Mother and father, each with the evidence for it.")),
        (_("clutch, egg case"), _("Eggs laid together; the case in which one egg or several lie.")),
        (
            _("restriction"),
            _(
                "Keep off: quarantine, treatment, gravid, rearing, moult, acclimating, transfer, "
                "or because an animal looks wrong. It bars until it is ended."
            ),
        ),
        (_("booking"), _("Animals, places and dates that the curator offers to a project.")),
        (
            _("enrolment"),
            _("That an animal is in a project, under the code by which its data name it."),
        ),
        (_("withdrawal"), _("That an animal was taken out of a project before its end.")),
        (_("discharge"), _("That an animal's part in a project ended as planned.")),
        (_("use"), _("One contact with an animal, or one observation of it, as it was recorded.")),
        (
            _("re-use of an animal"),
            _("That an animal is used again in other work. Not to be mixed up with data reuse."),
        ),
        (
            _("lifetime experience"),
            _("All that an animal went through, over all projects and years."),
        ),
        (
            _("out of bounds"),
            _("Barred from all research today, on the animal, its group or its place."),
        ),
    ),
    _theme(
        _("Design"),
        (
            _("experimental unit"),
            _(
                "What a treatment is given to by itself, whatever the number of animals in it: an "
                "animal, a tank, an egg string."
            ),
        ),
        (_("observational unit"), _("What is measured or watched; several may stand in one unit.")),
        (_("replicate"), _("One of several experimental units that were treated alike.")),
        (_("allocation"), _("Which unit gets which treatment, drawn at random.")),
        (
            _("sampling rule"),
            _("Which animals are watched, and when: focal, scan, all occurrences."),
        ),
        (_("recording rule"), _("How it is written down: continuous, instantaneous, one-zero.")),
        (
            _("ethogram"),
            _("The list of behaviours with a definition for each by which two observers agree."),
        ),
        (
            _("session"),
            _("A stretch of observation or work at one enclosure, planned, then held or missed."),
        ),
    ),
    _theme(
        _("Data"),
        (
            _("data dictionary"),
            _(
                "What each column means, with its type, unit and codes; a study's dictionary has "
                "versions."
            ),
        ),
        (
            _("deposit"),
            _("Data on their way in: uploaded, checked, corrected, and accepted in the end."),
        ),
        (
            _("dataset"),
            _("All data of one project, kept as versions of which none is ever changed."),
        ),
        (
            _("version"),
            _("An accepted state of a dataset, with an identifier, a citation and digests."),
        ),
        (_("embargo"), _("Days until which only those named may read a version.")),
        (_("data reuse"), _("That others use data again; the version is named and cited.")),
        (
            _("withdrawn version"),
            _("One that is no longer handed out. Its page stays, and says why."),
        ),
    ),
    _theme(
        _("When something goes wrong"),
        (
            _("humane end-point"),
            _("The sign at which one animal is taken out, whatever the study still wanted."),
        ),
        (_("stopping rule"), _("When the whole project stops.")),
        (
            _("halt"),
            _(
                "Collecting stops for welfare. Anyone may ask for it; only the veterinary surgeon "
                "and the body together lift it."
            ),
        ),
        (_("adverse event"), _("Harm to an animal that was not expected.")),
        (_("deviation"), _("What was done otherwise than planned.")),
        (
            _("breach"),
            _(
                "Something that happened outside a limit. It is recorded all the same, explained "
                "by the lead supervisor, and settled by others."
            ),
        ),
        (
            _("concern"),
            _("A worry that anyone may raise, by name or not; only those who handle it see it."),
        ),
    ),
    _theme(
        _("The record"),
        (_("deed"), _("Something that a person did here: it is permitted, checked and recorded.")),
        (
            _("ledger"),
            _(
                "The list of all deeds in their order. Nothing in it is changed; a correction is a "
                "deed of its own."
            ),
        ),
        (_("standing"), _("What a person is to the site: keeper, curator, supervisor and so on.")),
        (_("as of"), _("What had happened by one day, as far as it was known by another.")),
        (_("late entry"), _("What was recorded longer after it happened than the house allows.")),
        (_("audit point"), _("What an auditor wrote that must be answered.")),
    ),
)
