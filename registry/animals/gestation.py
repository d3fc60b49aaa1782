"""Days of a pregnancy: when a birth is due, and from when on an animal may not be sent away.

References
----------
Regulation (EC) No 1/2005, Annex I, Chapter I: pregnant animals of which 90 % or more of the
expected gestation has passed, and those that gave birth in the week before, are not fit for
transport (from memory; written for vertebrates sent as part of a business).
"""

from datetime import date, timedelta
from math import ceil

UNFIT_SHARE = 0.9
AFTER_BIRTH_D = 7


def unfit_from(since_on: date, least_d: int) -> date:
    """Give the first day on which a pregnant animal is not fit to travel.

    Parameters
    ----------
    since_on : date
        Earliest day on which the pregnancy may have begun.
    least_d : int
        Shortest published gestation, days, 1 or more: the cautious one.

    Raises
    ------
    ValueError
        When the gestation is shorter than a day.

    Examples
    --------
    >>> (unfit_from(date(2026, 1, 1), 350) - date(2026, 1, 1)).days
    315
    """
    if least_d < 1:
        raise ValueError("a gestation lasts a day or longer")
    # In whole tenths: 0.9 has no exact double, and 350 * 0.9 must be 315, not a hair above.
    return since_on + timedelta(days=ceil(least_d * round(UNFIT_SHARE * 10) / 10))


def is_soon_after(born_on: date, day: date) -> bool:
    """Say whether a day lies in the week after a birth.

    Parameters
    ----------
    born_on, day : date
        The birth, and the day that is asked about.
    """
    return 0 <= (day - born_on).days < AFTER_BIRTH_D
