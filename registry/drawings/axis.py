"""A straight axis of numbers with round ticks."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, log10


def written(value: float) -> str:
    """Write a number without idle zeros."""
    said = f"{value:.6g}"
    return said if "e" in said else f"{value:.4f}".rstrip("0").rstrip(".") or "0"


@dataclass(frozen=True, slots=True)
class NumberAxis:
    """Numbers from `low` to `high`, laid between two pixels, with a round step.

    Parameters
    ----------
    low, high : float
        The ends, both on a tick.
    step : float
        The distance of two ticks.
    left, right : float
        Where the ends stand, in pixels; left may be the greater for an axis that runs up.
    """

    low: float
    high: float
    step: float
    left: float
    right: float

    @classmethod
    def over(
        cls, low: float, high: float, left: float, right: float, ticks: int = 6
    ) -> "NumberAxis":
        """Lay an axis that holds both values, widened to round ticks."""
        if high <= low:
            low, high = low - (abs(low) or 1) * 0.5, high + (abs(high) or 1) * 0.5
        rough = (high - low) / ticks
        power = 10.0 ** floor(log10(rough))
        step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * 0.999)
        return cls(floor(low / step) * step, ceil(high / step) * step, step, left, right)

    def at(self, value: float) -> float:
        """Place a value, in pixels; a value off the axis stands at its end."""
        share = (value - self.low) / (self.high - self.low)
        return self.left + (self.right - self.left) * min(max(share, 0.0), 1.0)

    def ticks(self) -> Iterator[float]:
        """Yield the ticks from low to high."""
        count = round((self.high - self.low) / self.step)
        for i in range(count + 1):
            yield self.low + i * self.step
