"""Pages on which something is drawn: who gets what, and when to look."""

from collections.abc import Callable
from datetime import date, time, timedelta
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Enclosure
from registry.desk.designing.asking import Words, number, numbers_in, whole
from registry.web import NarrowForm, day_field

type Given = dict[str, Any]

_SEED = forms.RegexField(
    r"^[0-9a-f]{64}$",
    label=_("Seed"),
    help_text=_("64 hexadecimal digits, to draw the same again; left out, one is drawn."),
    required=False,
)


class DrawForm(NarrowForm):
    """What is drawn, and from what; `part` names it in the plan and in the API."""

    part: ClassVar[str]
    title: ClassVar[Words]
    said: ClassVar[Words]
    keeps_no_draft = True

    def own_fields(self) -> list[Any]:
        """Give all fields."""
        return list(self)

    def sent(self) -> Given:
        """Give what was filled as the address of the sum in the API takes it."""
        raise NotImplementedError


def names_in(text: str) -> list[str]:
    """Read names parted by commas or lines; a number alone stands for so many.

    Examples
    --------
    >>> names_in("still, brisk"), names_in("3")
    (['still', 'brisk'], ['1', '2', '3'])
    """
    found = [one.strip() for one in text.replace("\n", ",").split(",") if one.strip()]
    if len(found) == 1 and found[0].isdecimal() and 2 <= int(found[0]) <= 500:
        return [str(one + 1) for one in range(int(found[0]))]
    return found


def _lines_in(text: str) -> list[tuple[str, str]]:
    """Read lines of a name, a colon and what belongs to it."""
    found = []
    for line in filter(None, map(str.strip, text.splitlines())):
        name, colon, rest = line.partition(":")
        if not colon:
            raise ValidationError(
                _now("“%(line)s” has no colon: write a name, a colon, and what belongs to it."),
                params={"line": line[:60]},
            )
        found.append((name.strip(), rest.strip()))
    return found


def _levels(text: str) -> dict[str, dict[str, str]]:
    found = {}
    for unit, rest in _lines_in(text):
        pairs = [one.partition("=") for one in rest.split(",") if one.strip()]
        found[unit] = {name.strip(): level.strip() for name, _equal, level in pairs}
    return found


def _square(text: str) -> Given:
    sides = {name.lower(): names_in(rest) for name, rest in _lines_in(text)}
    if set(sides) != {"rows", "columns"}:
        raise ValidationError(_now("Write two lines: “rows: …” and “columns: …”."))
    return sides


_UNITS: dict[str, Callable[[str], Given]] = {
    "complete": lambda text: {"units": names_in(text)},
    "permuted": lambda text: {"units": names_in(text)},
    "crossover": lambda text: {"units": names_in(text)},
    "phases": lambda text: {"units": names_in(text)},
    "blocked": lambda text: {"blocks": {name: names_in(rest) for name, rest in _lines_in(text)}},
    "stratified": lambda text: {"blocks": {name: names_in(rest) for name, rest in _lines_in(text)}},
    "latin": _square,
    "minimised": lambda text: {"levels": _levels(text)},
    "rerandomised": lambda text: {
        "covariates": {name: list(numbers_in(rest)) for name, rest in _lines_in(text)}
    },
}
"""How the units are written for each method."""


class AllocateForm(DrawForm):
    """Which units, which treatments, and how they are dealt."""

    part = "allocation"
    title = _("Who gets what")
    said = _("Units are dealt to treatments by a draw that anyone can make again from its seed.")

    method = forms.ChoiceField(
        label=_("Method"),
        choices=[
            ("complete", _("complete: all at once")),
            ("blocked", _("blocked: shelves, days, rooms")),
            ("stratified", _("stratified: sex, size, clutch")),
            ("permuted", _("permuted blocks: as they arrive")),
            ("latin", _("Latin square: rows and columns")),
            ("crossover", _("crossover in Williams orders")),
            ("phases", _("phases: given, taken away, given again")),
            ("minimised", _("minimised over several factors")),
            ("rerandomised", _("drawn again until balanced")),
        ],
    )
    arms = forms.CharField(
        label=_("Treatments"), help_text=_("Such as still, brisk."), max_length=900
    )
    units = forms.CharField(
        label=_("Units"),
        help_text=_(
            "Names, or a number of them. Blocked or stratified: a line for each block, such as "
            "top: T1, T2. Latin square: rows: top, low and columns: Mon, Tue. Minimised: a line "
            "for each unit, such as T1: sex=male, size=small. Drawn again: T1: 12.4, 30."
        ),
        widget=forms.Textarea(attrs={"rows": 6}),
        max_length=20_000,
    )
    sessions = whole(_("Sessions of each animal"), _("Of phases alone."), required=False)
    phases = forms.CharField(
        label=_("Phases"),
        help_text=_("Of phases alone: A for the first treatment, B for the second; such as ABAB."),
        required=False,
        max_length=26,
    )
    shortest = whole(
        _("Least sessions of a phase"), _("Of phases alone; 3 if left out."), required=False
    )
    accept = number(
        _("Share of draws that is accepted"), _("Where they are drawn again."), required=False
    )
    seed = _SEED

    def clean(self) -> dict[str, Any]:
        """Read the units as the method has them."""
        given = super().clean() or {}
        if given.get("arms") and len(names_in(given["arms"])) < 2:
            self.add_error("arms", _("Name two treatments or more, parted by commas."))
        if given.get("method") and given.get("units"):
            try:
                self.read = _UNITS[given["method"]](given["units"])
            except ValidationError as wrong:
                self.add_error("units", wrong)
        return given

    def sent(self) -> Given:
        """Give what the API takes."""
        given = self.cleaned_data
        found = {"method": given["method"], "arms": names_in(given["arms"]), **self.read}
        if given["method"] == "rerandomised" and given.get("accept") is not None:
            found["accept"] = given["accept"]
        if given["method"] == "phases":
            asked = ("sessions", "phases", "shortest")
            found |= {name: given[name] for name in asked if given.get(name)}
        return found


_WEEKDAYS = [
    ("0", _("Monday")),
    ("1", _("Tuesday")),
    ("2", _("Wednesday")),
    ("3", _("Thursday")),
    ("4", _("Friday")),
    ("5", _("Saturday")),
    ("6", _("Sunday")),
]
MOST_DAYS = 200


def _times_in(text: str) -> list[tuple[str, str]]:
    """Read times of day, each with how crowded it is then."""
    found = []
    for start, _space, crowding in (line.strip().partition(" ") for line in text.splitlines()):
        try:
            found.append((f"{time.fromisoformat(start):%H:%M}", crowding.strip()[:40]))
        except ValueError:
            raise ValidationError(
                _now("“%(said)s” is no time of day: write it as 10:00, one a line."),
                params={"said": start[:20]},
            ) from None
    return found


class ScheduleForm(DrawForm):
    """Whom, on which days, at which times."""

    part = "schedule"
    title = _("When to look")
    said = _(
        "Sessions over days and times, with an order of animals that is even over positions, times "
        "and weekdays; around what else is on."
    )

    animals = forms.CharField(
        label=_("Animals"), help_text=_("Names or codes, parted by commas."), max_length=2000
    )
    first = day_field(_("From"))
    last = day_field(_("Until"))
    weekdays = forms.MultipleChoiceField(
        label=_("On"),
        choices=_WEEKDAYS,
        initial=["0", "1", "2", "3", "4"],
        widget=forms.CheckboxSelectMultiple,
    )
    slots = forms.CharField(
        label=_("Times of day"),
        help_text=_("One a line: the time, then how crowded it is then, such as 10:00 quiet."),
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=600,
    )
    length_min = whole(_("Minutes of a session"), first=30)
    per_day = whole(_("Sessions on a day"), _("All times by default."), required=False)
    watched = whole(_("Animals watched in a session"), _("All by default."), required=False)
    every_min = number(
        _("Minutes between scans"),
        _("5 is common practice, no source; leave it out where each animal is watched in turn."),
        required=False,
    )
    place = forms.ModelChoiceField(
        label=_("Enclosure"),
        help_text=_("What is on there, and whom it bars, is left free."),
        queryset=Enclosure.objects.all(),
        required=False,
    )
    seed = _SEED

    def clean(self) -> dict[str, Any]:
        """Read the times, and refuse days that end before they begin."""
        given = super().clean() or {}
        first, last = given.get("first"), given.get("last")
        if first and last and last < first:
            self.add_error("last", _("This day is before the first one."))
        elif first and last and (last - first).days > 3 * MOST_DAYS:
            self.add_error("last", _("Plan up to two hundred days at a time."))
        if given.get("slots"):
            try:
                self.times = _times_in(given["slots"])
            except ValidationError as wrong:
                self.add_error("slots", wrong)
        return given

    def days(self) -> list[date]:
        """Give the days that are meant."""
        given = self.cleaned_data
        span = (given["last"] - given["first"]).days + 1
        every = (given["first"] + timedelta(days=one) for one in range(span))
        return [one for one in every if str(one.weekday()) in given["weekdays"]]

    def sent(self) -> Given:
        """Give what the API takes; what else is on is added by whoever knows the register."""
        given = self.cleaned_data
        return {
            "animals": names_in(given["animals"]),
            "days": [one.isoformat() for one in self.days()],
            "slots": [{"start": start, "crowding": crowding} for start, crowding in self.times],
            "length_min": given["length_min"],
            **{name: given[name] for name in ("per_day", "watched") if given.get(name)},
            **({"seed": given["seed"]} if given.get("seed") else {}),
        }
