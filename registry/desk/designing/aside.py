"""What is asked beside the tests: one animal, widths of intervals, a collection, an interval."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from registry import design
from registry.desk.designing.asking import Words, number, numbers_in, whole

_CONFIDENCE = number(_("Confidence"), _("0.95 is 95 per cent."), required=False, first=0.95)
_HALF = number(_("Half of the interval"), _("How far the truth may lie to either side."))


def _enough(n: int, half: float) -> str:
    return _now("{n} units give an interval of ± {half} or narrower.").format(n=n, half=f"{half:g}")


@dataclass(frozen=True)
class Said:
    """An answer in words, with a table where there is one.

    Parameters
    ----------
    said : str
    notes : tuple of str
    source : str
    heads : tuple of str
        Heads of the table; empty where there is none.
    rows : tuple of tuple
    """

    said: str
    notes: tuple[str, ...] = ()
    source: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Give the answer as the API shows it."""
        rows = [dict(zip(self.heads, map(str, row), strict=True)) for row in self.rows]
        return {"said": self.said, "notes": list(self.notes), "source": self.source, "rows": rows}


class AsideForm(forms.Form):
    """Something that a plan may ask beside a test."""

    title: ClassVar[Words]
    said: ClassVar[Words]
    keeps_no_draft = True

    def own_fields(self) -> list[Any]:
        """Give all fields."""
        return list(self)

    def answered(self) -> Said:
        """Answer a form that is filled.

        Raises
        ------
        Unsound
            Where a number is out of range.
        """
        raise NotImplementedError

    def given(self, name: str, usual: Any) -> Any:
        """Give what was filled in, or what is usual."""
        found = self.cleaned_data.get(name)
        return usual if found in {None, ""} else found


class PhasesForm(AsideForm):
    """One animal: how many assignments a design in phases has, and the p that it can reach."""

    title = _("One animal, or a few")
    said = _("One animal watched in phases whose changes are drawn, such as ABAB.")

    sessions = whole(_("Sessions in all"))
    phases = forms.CharField(
        label=_("Phases"),
        help_text=_("Letters in order, such as AB or ABAB."),
        initial="ABAB",
        max_length=26,
    )
    shortest = whole(_("Least sessions of a phase"), first=3)
    alpha = number(_("Significance level"), required=False, first=0.05)

    def reached(self) -> Any:
        """Give what the design in phases can reach."""
        given = self.cleaned_data
        made = design.Phases(
            sessions=given["sessions"], phases=given["phases"].strip(), shortest=given["shortest"]
        )
        return design.reach(made.assignments, alpha=self.given("alpha", 0.05))

    def answered(self) -> Said:
        """Say the smallest p, and what it means."""
        return _reach_said(self.reached())


def _reach_said(found: Any) -> Said:
    return Said(
        found.said,
        (
            _now(
                "What is drawn is drawn from {count} assignments that are possible, and the "
                "outcome is held against all of them. No outcome gives a smaller p than one of so "
                "many."
            ).format(count=f"{found.assignments:,}"),
            _now(
                "Several animals may be combined: each has its own draw, and their p-values are "
                "put together."
            ),
        ),
        _now("Edgington and Onghena (2007), Randomization Tests"),
    )


class StaggeredForm(AsideForm):
    """A few animals that begin at different times: a multiple baseline."""

    title = _("A few animals, staggered baselines")
    said = _("Each animal goes from baseline to treatment at a time of its own, which is drawn.")

    animals = whole(_("Animals"))
    starts = whole(
        _("Starting times that are open"),
        _("One animal begins at each; leave it out where each has a window of its own."),
        required=False,
    )
    windows = forms.CharField(
        label=_("Or starts in each animal’s window"),
        help_text=_("Such as 5, 5, 5 for three animals."),
        required=False,
        max_length=200,
    )
    alpha = number(_("Significance level"), required=False, first=0.05)

    def clean_windows(self) -> tuple[int, ...]:
        """Read the windows."""
        return tuple(int(one) for one in numbers_in(self.cleaned_data["windows"]))

    def clean(self) -> dict[str, Any]:
        """Ask for the one or the other, with a window for each animal."""
        given = super().clean() or {}
        windows = given.get("windows") or ()
        if "windows" not in self.errors and bool(windows) == bool(given.get("starts")):
            raise ValidationError(_now("Give either the starting times or the windows."))
        if windows and given.get("animals") and len(windows) != given["animals"]:
            self.add_error("windows", _now("Give one number for each animal."))
        return given

    def answered(self) -> Said:
        """Say the smallest p that so many assignments reach."""
        given = self.cleaned_data
        ways = (
            design.windowed(given["windows"])
            if given["windows"]
            else design.staggered(given["animals"], given["starts"])
        )
        return _reach_said(design.reach(ways, alpha=self.given("alpha", 0.05)))


class MeanWidthForm(AsideForm):
    """How many for an interval of a mean."""

    title = _("Interval of a mean")
    said = _("To describe, not to test: how many units give a mean with an interval so narrow.")

    sd = number(_("Standard deviation"), _("Between units, in the outcome’s own unit."))
    half_width = _HALF
    confidence = _CONFIDENCE

    def answered(self) -> Said:
        """Say the number, and the width that other numbers reach."""
        sd, confidence = self.cleaned_data["sd"], self.given("confidence", 0.95)
        half = self.cleaned_data["half_width"]
        n = design.number_for_mean(half, sd, confidence)
        numbers = sorted({max(2, n // 2), max(2, n - 1), n, n + 1, 2 * n})
        return Said(
            _now("{n} units give an interval of ± {half} or narrower.").format(
                n=n, half=f"{half:g}"
            ),
            (_now("Units are independent of each other; animals of one tank are not."),),
            _now("t interval; Student (1908)"),
            (_now("Units"), _now("Half of the interval")),
            tuple(
                (str(one), f"{design.mean_half_width(one, sd, confidence):.4g}") for one in numbers
            ),
        )


class ShareWidthForm(AsideForm):
    """How many for an interval of a share."""

    title = _("Interval of a share")
    said = _("To describe: how many units give a share, such as of eggs that hatch, so closely.")

    share = number(_("Expected share"), _("From 0 to 1; 0.5 needs the most."))
    half_width = _HALF
    confidence = _CONFIDENCE

    def answered(self) -> Said:
        """Say the number, and the width that other numbers reach."""
        share, confidence = self.cleaned_data["share"], self.given("confidence", 0.95)
        half = self.cleaned_data["half_width"]
        n = design.number_for_share(share, half, confidence)
        numbers = sorted({max(1, n // 2), n, 2 * n})
        return Said(
            _now("{n} units give an interval of ± {half} or narrower.").format(
                n=n, half=f"{half:g}"
            ),
            (_now("Units are independent of each other; eggs of one tank are not."),),
            _now("Wilson’s interval; Newcombe (1998)"),
            (_now("Units"), _now("Half of the interval")),
            tuple(
                (str(one), f"{design.wilson_half_width(one, share, confidence):.3f}")
                for one in numbers
            ),
        )


class CollectionForm(AsideForm):
    """How many of a finite collection, to describe it."""

    title = _("A whole collection, described")
    said = _("How many of a collection to look at, where nothing beyond it is meant.")

    collection = whole(_("Animals in the collection"))
    share = number(_("Expected share"), _("0.5 needs the most."), required=False, first=0.5)
    half_width = number(_("Half of the interval"), required=False, first=0.05)
    confidence = _CONFIDENCE

    def answered(self) -> Said:
        """Say the number, rounded up."""
        whole_ = self.cleaned_data["collection"]
        n = design.wald_number(
            self.given("share", 0.5), self.given("half_width", 0.05), self.given("confidence", 0.95)
        )
        found = min(whole_, -int(-design.of_a_collection(n, whole_) // 1))
        return Said(
            _now("Look at {n} of the {whole}.").format(n=found, whole=whole_),
            (
                _now("Without an end to the collection it would be {n}.").format(n=-int(-n // 1)),
                _now(
                    "Only to describe this collection: a test of a treatment is meant for animals "
                    "like these, and takes no such discount."
                ),
            ),
            _now("Cochran (1977), section 4.6; Krejcie and Morgan (1970)"),
        )


class ResourceForm(AsideForm):
    """The resource equation, where nothing is known of spread and effect."""

    title = _("Nothing known: the resource equation")
    said = _("Degrees of freedom left for error, where neither spread nor effect is known.")

    units = whole(_("Units in all"))
    treatments = whole(_("Treatments"), first=2)
    blocks = whole(_("Blocks"), required=False, first=1)

    def answered(self) -> Said:
        """Say what is left for error."""
        given = self.cleaned_data
        left = design.error_degrees(given["units"], given["treatments"], self.given("blocks", 1))
        return Said(
            design.resource_said(left),
            (
                _now(
                    "It knows neither spread nor effect: run a pilot, or take an earlier cohort’s "
                    "spread, as soon as there is one."
                ),
            ),
            _now("Mead (1988); Festing (2018)"),
        )


class IntervalForm(AsideForm):
    """Does an interval between scans suit a behaviour? From continuous pilot data."""

    title = _("The interval between scans")
    said = _("Bias, error and missed bouts at several intervals, from pilot data watched whole.")

    watches = forms.CharField(
        label=_("Pilot watches"),
        help_text=_(
            "One a line: animal, seconds watched, then each bout as begin-end in seconds. "
            "Such as: Moss, 600, 0-60, 300-420."
        ),
        widget=forms.Textarea(attrs={"rows": 6}),
        max_length=20_000,
    )
    intervals = forms.CharField(
        label=_("Intervals in seconds"),
        help_text=_("300 is common practice, no source."),
        initial="30, 60, 120, 300",
        max_length=200,
    )

    def clean_watches(self) -> list[Any]:
        """Read the watches."""
        return [_watch(line) for line in self.cleaned_data["watches"].splitlines() if line.strip()]

    def clean_intervals(self) -> tuple[float, ...]:
        """Read the intervals."""
        return numbers_in(self.cleaned_data["intervals"])

    def answered(self) -> Said:
        """Lay out each interval."""
        given = self.cleaned_data
        watches = [design.Watch(*one) for one in given["watches"]]
        found = design.interval_check(watches, given["intervals"])
        fine = [one for one in found if one.is_fine_enough]
        widest = max((one.interval_s for one in fine), default=None)
        return Said(
            _now("Every {s} seconds is fine enough.").format(s=f"{widest:g}")
            if widest is not None
            else _now("None of these is shown to be fine enough."),
            _weighed(found, len({one.animal for one in watches})),
            _now("Altmann (1974); Bernstein (1991)"),
            (
                _now("Seconds"),
                _now("Bias"),
                _now("Error"),
                _now("Bouts missed, of 100"),
                _now("Beside the animals’ interval"),
            ),
            tuple(
                (
                    f"{one.interval_s:g}",
                    f"{one.bias:+.3f}",
                    f"{one.rmse:.3f}",
                    f"{100 * one.missed:.0f}",
                    _now("small") if one.is_fine_enough else _now("not small"),
                )
                for one in found
            ),
        )


FEW = 5
"""Animals below which the interval over animals says little; a house rule, no source."""


def _weighed(found: Sequence[Any], animals: int) -> tuple[str, ...]:
    """Say what must be weighed beside the table."""
    notes = []
    if (rule := found[0].independent_s) is not None:
        notes.append(
            _now("Successive scans may be taken as independent beyond {s} seconds.").format(
                s=f"{rule:.0f}"
            )
        )
    if animals == 1:
        notes.append(_now("One animal gives no interval to hold that against: watch more."))
    elif animals < FEW:
        notes.append(
            _now(
                "With {n} animals their own interval is so wide that any error looks small beside "
                "it: go by the error itself, or watch more."
            ).format(n=animals)
        )
    if any(one.missed > 0.5 for one in found):
        notes.append(
            _now(
                "Where more than half of the bouts are missed, scans tell the share of time and "
                "nothing of how many bouts there were, or how long."
            )
        )
    return tuple(notes)


def _watch(line: str) -> tuple[str, float, list[tuple[float, float]]]:
    name, *rest = [one.strip() for one in line.split(",")]
    try:
        length = _finite(rest[0])
        parted = (one.partition("-") for one in rest[1:])
        bouts = [(_finite(begin), _finite(end)) for begin, _dash, end in parted]
    except (IndexError, ValueError):
        raise ValidationError(
            _now("“%(line)s” could not be read: write animal, seconds, begin-end, begin-end."),
            params={"line": line[:60]},
        ) from None
    return name, length, bouts


def _finite(said: str) -> float:
    found = float(said)
    if not isfinite(found):
        raise ValueError(said)
    return found


ASIDE: dict[str, type[AsideForm]] = {
    "one-animal": PhasesForm,
    "staggered": StaggeredForm,
    "mean-width": MeanWidthForm,
    "share-width": ShareWidthForm,
    "collection": CollectionForm,
    "resource": ResourceForm,
    "interval": IntervalForm,
}
"""The name of each in addresses and in the API."""
