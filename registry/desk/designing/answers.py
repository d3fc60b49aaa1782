"""What is answered: the same facts for the page and for the API."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from registry import design
from registry.desk.designing.asking import SizeForm
from registry.desk.designing.bearing import INHERITED, Bearing, bearing_of
from registry.drawings.curves import Curve, curves
from registry.drawings.two_widths import Drawn
from registry.errors import Unsound

POINTS = 24
"""Points of a power curve; the table beneath shows as many."""


@dataclass(frozen=True)
class SizeAnswer:
    """One answer on replication, with all that stands around it.

    Parameters
    ----------
    found : Sized
        What was asked; of `registry.design`.
    points : tuple of Point
        The power curve.
    shifts : tuple of Shift
        What would change the answer.
    offer : Offer or None
        What the collection can bear, where that is known.
    bearing : Bearing or None
    wanted : float
        The power that was asked, or is usual.
    labels : mapping of str to str
        Field to its name on the page.
    spread_from : str
        Where the spread is from, as it was said.
    project : Project or None
        The one whose approvals were counted.
    """

    found: Any
    points: tuple[Any, ...]
    shifts: tuple[Any, ...]
    offer: Any
    bearing: Bearing | None
    wanted: float
    labels: Mapping[str, Any]
    spread_from: str = ""
    project: Any = None

    @property
    def rows(self) -> list[dict[str, Any]]:
        """What would change the answer, as the page shows it."""
        return [
            {
                "label": self.labels[one.field],
                "value": f"{one.value:.3g}",
                "n": one.n,
                "power": one.power,
            }
            for one in self.shifts
        ]

    @property
    def drawing(self) -> Drawn:
        """The power curve; its table is the page's to write."""
        design_ = self.found.design
        points = tuple((float(one.n), one.power) for one in self.points)
        n = None if self.offer is None else self.offer.worth * self.found.n / self.found.total
        return curves(
            [Curve(_("power"), points)],
            design_.counted,
            _("power"),
            wanted=self.wanted,
            marked=n,
            marked_said=_("what can be had"),
        )

    def as_dict(self) -> dict[str, Any]:
        """Give the answer as the API shows it."""
        found = self.found
        shown = {
            "asked": found.asked,
            "n": found.n,
            "unrounded": round(found.unrounded, 6),
            "total": found.total,
            "effect": found.effect,
            "power": found.power,
            "counted": found.design.counted,
            "effect_is": found.design.meant,
            "test": found.design.test,
            "source": found.design.source,
            "said": found.said,
            "spread_from": self.spread_from,
            "assumptions": list(found.design.assumed()),
            "cautions": [asdict(one) for one in found.cautions],
            "curve": [asdict(one) for one in self.points],
            "sensitivity": [asdict(one) for one in self.shifts],
        }
        if self.offer is not None:
            shown["collection"] = {**asdict(self.offer), "is_enough": self.offer.is_enough}
        return shown


def size_answer(form: SizeForm) -> SizeAnswer:
    """Answer a form that is filled.

    Raises
    ------
    Unsound
        Where a number is out of range, or not exactly one of the three is left out.
    """
    asked = form.made()
    found = design.solve(asked, **form.looked_for())
    bearing = _bearing(form)
    available, worth = form.cleaned_data.get("available"), None
    if available is None and bearing is not None:
        in_tanks = "tank" in asked.counted
        available = bearing.enclosures if in_tanks else bearing.free
        worth = None if in_tanks else bearing.worth
    power = form.cleaned_data.get("power") or 0.8
    offer = None
    if available is not None:
        offer = design.offer(
            asked, effect=found.effect, available=available, power=power, worth=worth
        )
    return SizeAnswer(
        found=found,
        points=_points(found),
        shifts=design.sensitivity(found, power=power),
        offer=offer,
        bearing=bearing,
        wanted=power,
        labels={name: field.label for name, field in form.fields.items()},
        spread_from=form.cleaned_data.get("spread_from") or "",
        project=form.cleaned_data.get("project"),
    )


def _bearing(form: SizeForm) -> Bearing | None:
    taxon = form.cleaned_data.get("taxon")
    if taxon is None:
        return None
    today = timezone.localdate()
    first = form.cleaned_data.get("first") or today
    last = form.cleaned_data.get("last") or max(first, today)
    inherited = form.cleaned_data.get("inherited")
    return bearing_of(
        taxon,
        first,
        last,
        form.cleaned_data.get("project"),
        inherited=INHERITED if inherited is None else inherited,
    )


def _points(found: Any) -> tuple[Any, ...]:
    """Give the power at numbers from the least to twice what was found."""
    lowest, last = found.design.lowest, max(found.n * 2, found.design.lowest + 8)
    step = max(1, -(-(last - lowest) // POINTS))
    numbers = sorted({*range(lowest, last + 1, step), found.n})
    return _as_far(
        lambda upto: design.curve(found.design, effect=found.effect, numbers=upto), numbers
    )


def _as_far(drawn: Callable[[list[int]], tuple[Any, ...]], numbers: list[int]) -> tuple[Any, ...]:
    """Give the curve as far as the design can be counted out."""
    try:
        return drawn(numbers)
    except Unsound:
        return drawn(numbers[: len(numbers) // 2])
