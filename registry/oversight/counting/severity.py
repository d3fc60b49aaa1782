"""The actual severity that an animal's uses add up to at least.

References
----------
UK advisory notes on actual severity, January 2014: the highest that was reached, the accumulation
of lesser events included, neither the end state nor the average.
"""

from collections.abc import Iterable

from registry.oversight.counting.rows import NON_RECOVERY


def least_severity(severities: Iterable[int]) -> int | None:
    """Give the lowest class that an animal's actual severity may be given, after these uses.

    Parameters
    ----------
    severities : iterable of int
        The actual classes of its uses.

    Returns
    -------
    int or None
        The highest class on the scale; NON_RECOVERY where all its uses were; None without uses.

    Notes
    -----
    Lesser events may add up to a higher class, which only a person can judge: this is the floor
    and the suggestion, never the ceiling. Where a step from which the animal woke went before,
    the whole is classed on the scale (weak source: a teaching card; ask the veterinary surgeon).

    Examples
    --------
    >>> least_severity([1, 1, 2])
    2
    >>> least_severity([9, 1])
    1
    """
    given = list(severities)
    on_scale = [one for one in given if one != NON_RECOVERY]
    if on_scale:
        return max(on_scale)
    return NON_RECOVERY if given else None


def is_below(severity: int, severities: Iterable[int]) -> bool:
    """Say whether an actual class is lower than the uses allow.

    Examples
    --------
    >>> is_below(1, [1, 2]), is_below(2, [1, 2]), is_below(9, [9]), is_below(9, [1])
    (True, False, False, True)
    """
    given = list(severities)
    least = least_severity(given)
    if least is None:
        return False
    if severity == NON_RECOVERY:
        return NON_RECOVERY not in given
    return least != NON_RECOVERY and severity < least
