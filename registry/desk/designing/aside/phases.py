"""One animal, or a few: the assignments that can be drawn, and the p that they reach."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from registry import design
from registry.desk.designing.aside.base import AsideForm, Said
from registry.desk.designing.asking import number, numbers_in, whole


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
