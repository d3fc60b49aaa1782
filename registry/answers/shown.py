"""Who sees the figure of an answer: those who may read its data, or everyone once released."""

from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from archive.figures import Figure, figures_of
from archive.models import Analysis, Version
from registry.answers.models import Answer
from registry.people.models import Person
from registry.permissions import Verb, may, released

KEPT = _(
    "There is a figure too, of data that are not open to everyone: it is shown to those who may "
    "read them."
)


@dataclass(frozen=True)
class Shown:
    """The figure of an answer as one person sees it.

    Parameters
    ----------
    figure : Figure or None
        None where there is none, or it is kept back.
    is_kept : bool
        Whether there is one that this person may not see.
    is_of_closed : bool
        Whether its data are not open to everyone, so that it needs a release.
    """

    figure: Figure | None
    is_kept: bool = False
    is_of_closed: bool = False


def figure_for(answer: Answer, person: Person) -> Shown:
    """Give the figure of an answer, the first of its analysis, to whoever may see it.

    What was erased is shown to nobody by a release: the consent for it is gone.
    """
    analysis = answer.analysis
    first = next(iter(figures_of(analysis)), None) if analysis else None
    if first is None or analysis is None:
        return Shown(None)
    if _is_open(analysis, person):
        return Shown(first)
    is_released = (
        answer.figure_released_at is not None
        and not analysis.sources.filter(state="erased").exists()
    )
    if is_released or may(person, Verb.ANALYSIS_SEE, analysis):
        return Shown(first, is_of_closed=True)
    return Shown(None, is_kept=True, is_of_closed=True)


def _is_open(analysis: Analysis, person: Person) -> bool:
    """Say whether all its data are, or were, open; a better version takes no figure away."""
    is_open = released(person, Version)
    assert isinstance(is_open, Q)
    replaced = Q(state="withdrawn", ground__in=[Version.Ground.FAULTY, Version.Ground.SUPERSEDED])
    return not analysis.sources.exclude(is_open & (Q(state="held") | replaced)).exists()
