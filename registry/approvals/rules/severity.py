"""Severity: the class that effects reach by how hard they are and how long, and when they add up.

Notes
-----
The prospective class is of the most severe effects that one animal is likely to go through, once
all refinements are made; the actual class is the highest that it went through, accumulation
included, and never the average. An actual class above the prospective one is an incident.

References
----------
Directive 2010/63/EU, Annex VIII, section I (classes by intensity and duration) and section II
(cumulative suffering; the most severe effects likely for an individual). Actual severity as the
highest reached, lesser events together included: Home Office advisory notes on recording and
reporting the actual severity, January 2014. Sub-threshold is the word of the United Kingdom for
what stays below the effect of a skilled needle.
"""

from collections.abc import Sequence

from registry.approvals.rules.law import MILD, MODERATE, NON_RECOVERY, SEVERE

SUB_THRESHOLD = 0
NAMES = {
    SUB_THRESHOLD: "sub-threshold",
    MILD: "mild",
    MODERATE: "moderate",
    SEVERE: "severe",
    NON_RECOVERY: "non-recovery",
}


def class_of(effect: int, *, is_lasting: bool = False, recovers: bool = True) -> int:
    """Give the class that an effect reaches.

    Parameters
    ----------
    effect : int
        How hard it is by itself, 0 to 3.
    is_lasting : bool
        Whether it lasts long, or comes again and again so that it is as if it lasted.
    recovers : bool
        Whether the animal wakes again from a procedure that is wholly under general anaesthesia.

    Raises
    ------
    ValueError
        When the effect is no class on the scale.

    Examples
    --------
    >>> [NAMES[class_of(effect, is_lasting=True)] for effect in (0, 1, 2, 3)]
    ['sub-threshold', 'moderate', 'severe', 'severe']
    """
    if effect not in {SUB_THRESHOLD, MILD, MODERATE, SEVERE}:
        raise ValueError(f"an effect is of a class from 0 to 3, not {effect}")
    if not recovers:
        return NON_RECOVERY
    if not is_lasting or effect == SUB_THRESHOLD:
        return effect
    return min(effect + 1, SEVERE)


def may_add_up_to(classes: Sequence[int]) -> int | None:
    """Give the class to which lesser events may add up, where a person must say whether they did.

    Parameters
    ----------
    classes : sequence of int
        The actual class of each event of one animal in one procedure, 0 to 3 or 9.

    Returns
    -------
    int or None
        One above the highest, where that class was reached more than once; None where nothing
        adds up. How many make it so is for a person to judge: no number is published.

    Examples
    --------
    >>> may_add_up_to([1, 1, 0]), may_add_up_to([1, 2]), may_add_up_to([0, 0])
    (2, None, None)
    """
    on_scale = [one for one in classes if one != NON_RECOVERY]
    highest = max(on_scale, default=SUB_THRESHOLD)
    if highest in {SUB_THRESHOLD, SEVERE} or on_scale.count(highest) < 2:
        return None
    return highest + 1


def exceeds(severity: int, limit: int) -> bool:
    """Say whether a class is over a limit.

    Parameters
    ----------
    severity, limit : int
        0 sub-threshold, 1 mild, 2 moderate, 3 severe, 9 non-recovery.

    Notes
    -----
    Non-recovery stands off the scale: it is covered only where it was approved itself, and an
    approval of it covers nothing else but what is below the threshold (the cautious reading).

    Examples
    --------
    >>> exceeds(2, 1), exceeds(1, 2), exceeds(9, 3), exceeds(9, 9), exceeds(1, 9)
    (True, False, True, False, True)
    """
    if severity in {limit, SUB_THRESHOLD}:
        return False
    if NON_RECOVERY in {severity, limit}:
        return True
    return severity > limit
