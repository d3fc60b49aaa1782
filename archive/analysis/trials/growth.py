"""Growth and condition: rates of tanks, length and weight, and curves over time."""

import warnings
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, log

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from archive.analysis.bounded import Bounded, around
from archive.analysis.columns import rows_of
from archive.analysis.comparing.units import Units, unit_means
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds


def _positive(field: str, values: ArrayLike, said: str) -> Numbers:
    found = np.asarray(values, dtype=float)
    if not np.isfinite(found).all() or not (found > 0).all():
        bounds.refuse(
            field,
            f"Every {said} must be above 0.",
            "One is not, or is missing.",
            "Check the unit and the row, and leave out what was not measured.",
        )
    return found


def growth_rate(first_g: float, last_g: float, days: float) -> float:
    """Give the specific growth rate in per cent a day: 100 (ln W2 − ln W1) / days.

    Parameters
    ----------
    first_g, last_g : float
        Mean mass at both ends, in grams, above 0.
    days : float
        Above 0.

    References
    ----------
    Ricker, W. E. (1979). Growth rates and models. Fish Physiology 8, 677–743 (from memory).

    Examples
    --------
    >>> round(growth_rate(10, 20, 35), 2)
    1.98
    """
    _positive("mass_g", [first_g, last_g], "mass")
    return 100 * log(last_g / first_g) / bounds.above_zero("days", days, "number of days")


def thermal_growth(first_g: float, last_g: float, degree_days: float) -> float:
    """Give the thermal growth coefficient: 1000 (W2^⅓ − W1^⅓) / sum of daily temperatures.

    Parameters
    ----------
    first_g, last_g : float
        Grams, above 0.
    degree_days : float
        Sum of daily mean temperatures in °C, above 0.

    References
    ----------
    Cho, C. Y. (1992). Aquaculture 100, 107–123. Jobling, M. (2003). Aquaculture Research 34.

    Examples
    --------
    >>> round(thermal_growth(8, 27, 500), 3)
    2.0
    """
    first, last = np.cbrt(_positive("mass_g", [first_g, last_g], "mass"))
    return float(1000 * (last - first) / bounds.above_zero("degree_days", degree_days, "warmth"))


def condition(mass_g: ArrayLike, length_cm: ArrayLike) -> Numbers:
    """Give Fulton's condition factor: 100 W / L³.

    Parameters
    ----------
    mass_g, length_cm : array_like of float
        Grams and centimetres, above 0; say which length it is.

    References
    ----------
    Fulton (1904), as in Ricker, W. E. (1975). Bulletin of the Fisheries Research Board of Canada
    191.

    Examples
    --------
    >>> condition([250], [27]).round(4).tolist()
    [1.2701]
    """
    mass, length = _positive("mass_g", mass_g, "mass"), _positive("length_cm", length_cm, "length")
    return np.asarray(100 * mass / length**3)


def tank_growth(
    mass_g: ArrayLike,
    day: ArrayLike,
    tank: Sequence[Hashable],
    arm: Sequence[Hashable],
) -> tuple[Units, tuple[Gap, ...]]:
    """Give one specific growth rate for each tank, from its mean mass on its first and last day.

    Parameters
    ----------
    mass_g : array_like of float, shape (rows,)
        Of one animal, or of a whole tank, in grams; NaN where missing.
    day : array_like of float, shape (rows,)
    tank, arm : sequence of hashable

    Returns
    -------
    Units
        In per cent a day: to be compared by `unit_t` or by the draw.
    tuple of Gap

    Examples
    --------
    >>> found, _ = tank_growth([10, 20, 10, 40], [0, 35, 0, 35], ["a", "a", "b", "b"], ["x"] * 4)
    >>> found.values.round(2).tolist()
    [1.98, 3.96]
    """
    mass, when = np.asarray(mass_g, dtype=float), np.asarray(day, dtype=float)
    there = np.isfinite(mass) & (mass > 0) & np.isfinite(when)
    gaps = []
    if not there.all():
        gaps.append(
            Gap(
                f"{int((~there).sum())} rows are left out.", "They have no mass above 0, or no day."
            )
        )
    rates, names, arms, short = [], [], [], []
    for one, rows in rows_of(tank).items():
        own = rows[there[rows]]
        days = np.unique(when[own])
        if len(days) < 2:
            short.append(str(one))
            continue
        first, last = (float(mass[own[when[own] == end]].mean()) for end in (days[0], days[-1]))
        rates.append(growth_rate(first, last, float(days[-1] - days[0])))
        names.append(one)
        arms.append(arm[int(own[0])])
    if short:
        gaps.append(Gap(f"No growth of {few_named(short)}.", "It was weighed on one day alone."))
    return unit_means(rates, names, arms), tuple(gaps)


@dataclass(frozen=True, slots=True)
class LengthWeight:
    """W = a L^b.

    Parameters
    ----------
    a : float
        Grams at one unit of length, by the line through logarithms.
    b : Bounded
        Exponent; 3 is growth without change of shape.
    r2 : float
        Of the logarithms, 0 to 1.
    n : int
    """

    a: float
    b: Bounded
    r2: float
    n: int


def length_weight(
    length: ArrayLike, mass_g: ArrayLike, *, confidence: float = 0.95
) -> LengthWeight:
    """Fit the relation of weight to length by the line through their logarithms.

    Parameters
    ----------
    length : array_like of float, shape (animals,)
        Any unit, above 0, three animals or more.
    mass_g : array_like of float, shape (animals,)
    confidence : float, default 0.95

    References
    ----------
    Le Cren, E. D. (1951). Journal of Animal Ecology 20, 201–219. Froese, R. (2006). Journal of
    Applied Ichthyology 22, 241–253.

    Examples
    --------
    >>> found = length_weight([10, 20, 30, 40], [9.8, 81, 268, 642])
    >>> round(found.b.value, 2), found.b.low < 3 < found.b.high
    (3.01, True)
    """
    x = np.log(_positive("length", length, "length"))
    y = np.log(_positive("mass_g", mass_g, "mass"))
    n = len(x)
    if n != len(y) or n < 3 or np.ptp(x) == 0:
        bounds.refuse(
            "length",
            "The relation of weight to length cannot be fitted.",
            "Three animals of different lengths are needed, each with its weight.",
            "Measure more animals.",
        )
    sxx = float(((x - x.mean()) ** 2).sum())
    slope = float(((x - x.mean()) * (y - y.mean())).sum()) / sxx
    left = y - y.mean() - slope * (x - x.mean())
    total = float(((y - y.mean()) ** 2).sum())
    error = (float((left**2).sum()) / (n - 2) / sxx) ** 0.5
    b = around(slope, error, df=n - 2, confidence=confidence, how="t, line through logarithms")
    r2 = 1 - float((left**2).sum()) / total if total > 0 else 1.0
    return LengthWeight(exp(float(y.mean()) - slope * float(x.mean())), b, r2, n)


class Curve(StrEnum):
    """Curves that rise to a limit."""

    VON_BERTALANFFY = "von Bertalanffy"
    LOGISTIC = "logistic"
    SATURATING = "saturating"


@dataclass(frozen=True, slots=True)
class Fitted:
    """A curve fitted by least squares.

    Parameters
    ----------
    curve : Curve
    values : dict of str to Bounded
        Its parameters: limit (in the outcome's unit); then rate (per unit of time) and start
        (time at which it is 0) of von Bertalanffy, middle and scale (times) of the logistic, half
        (where half the limit is reached) of the saturating one.
    spread : float
        Standard deviation about the curve.
    df : int
    """

    curve: Curve
    values: dict[str, Bounded]
    spread: float
    df: int


def _bertalanffy(t: Numbers, limit: float, rate: float, start: float) -> Numbers:
    return np.asarray(limit * -np.expm1(-rate * (t - start)))


def _logistic(t: Numbers, limit: float, middle: float, scale: float) -> Numbers:
    return np.asarray(limit * special.expit((t - middle) / scale))


def _saturating(t: Numbers, limit: float, half: float) -> Numbers:
    return np.asarray(limit * t / (half + t))


_CURVES: dict[Curve, tuple[Callable[..., Numbers], tuple[str, ...]]] = {
    Curve.VON_BERTALANFFY: (_bertalanffy, ("limit", "rate", "start")),
    Curve.LOGISTIC: (_logistic, ("limit", "middle", "scale")),
    Curve.SATURATING: (_saturating, ("limit", "half")),
}


def fit_curve(
    curve: Curve, at: ArrayLike, values: ArrayLike, *, confidence: float = 0.95
) -> Fitted:
    """Fit a curve of growth or response by least squares.

    Parameters
    ----------
    curve : Curve
    at : array_like of float, shape (points,)
        Times, ages or concentrations.
    values : array_like of float, shape (points,)
        One for each unit or mean of a unit: points of one animal are not independent, and the
        intervals then are too narrow.
    confidence : float, default 0.95

    Raises
    ------
    Unsound
        Where there are no more points than parameters, or no fit is found.

    References
    ----------
    von Bertalanffy, L. (1938). Kimura, D. K. (1980). Fishery Bulletin 77, 765–776. Bates, D. M.
    and Watts, D. G. (1988). Nonlinear Regression Analysis and its Applications.

    Examples
    --------
    >>> found = fit_curve(Curve.SATURATING, [1, 2, 4, 8], [50, 67, 80, 89])
    >>> round(found.values["limit"].value), round(found.values["half"].value, 2)
    (100, 1.0)
    """
    t, y = np.asarray(at, dtype=float), np.asarray(values, dtype=float)
    shape, names = _CURVES[curve]
    df = len(y) - len(names)
    if len(t) != len(y) or df < 1 or not np.isfinite([t, y]).all():
        bounds.refuse(
            "values",
            f"The {curve.value} curve cannot be fitted.",
            f"It has {len(names)} parameters and needs more points than that, none missing.",
            "Measure at more times.",
        )
    top = float(y.max())
    first = {
        Curve.VON_BERTALANFFY: (1.1 * top, 2 / max(float(np.ptp(t)), 1e-9), float(t.min())),
        Curve.LOGISTIC: (2 * top, float(t.max()), float(np.ptp(t)) / 4),
        Curve.SATURATING: (1.1 * top, float(np.median(t))),
    }[curve]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", optimize.OptimizeWarning)
            warnings.simplefilter("ignore", RuntimeWarning)  # a step too far overflows, and is left
            best, covariance = optimize.curve_fit(
                shape, t, y, p0=first, maxfev=20_000, ftol=1e-14, xtol=1e-14, gtol=1e-14
            )
    except (RuntimeError, optimize.OptimizeWarning):
        best, covariance = np.full(len(names), np.nan), np.eye(len(names))
    if not np.isfinite(best).all() or not np.isfinite(covariance).all():
        bounds.refuse(
            "values",
            f"The {curve.value} curve does not fit.",
            "The points do not bend towards a limit.",
            "Take growth rates instead, or measure for longer.",
        )
    spread = (float(((y - shape(t, *best)) ** 2).sum()) / df) ** 0.5
    errors = np.sqrt(np.diag(covariance))
    found = {
        name: around(float(value), float(error), df=df, confidence=confidence, how="t, linearised")
        for name, value, error in zip(names, best, errors, strict=True)
    }
    return Fitted(curve, found, spread, df)
