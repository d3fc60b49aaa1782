"""The interval between scans, held against pilot data that were watched throughout."""

from collections.abc import Sequence
from math import isfinite
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from registry import design
from registry.desk.designing.aside.base import AsideForm, Said
from registry.desk.designing.asking import numbers_in


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
