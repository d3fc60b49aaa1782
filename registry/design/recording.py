"""What a sampling and a recording rule of behaviour can give, and what they cannot."""

from enum import StrEnum

SOURCE = "Altmann (1974), Behaviour 49, 227–267 (from memory)"


class Summary(StrEnum):
    """What one may want to say of a behaviour."""

    FREQUENCY = "frequency"
    DURATION = "duration"
    LATENCY = "latency"
    BOUTS = "bout lengths"
    SHARE_OF_TIME = "share of time"
    SHARE_OF_POINTS = "share of sample points"
    SHARE_OF_INTERVALS = "share of intervals"


_ALL_TIMES = frozenset(
    {
        Summary.FREQUENCY,
        Summary.DURATION,
        Summary.LATENCY,
        Summary.BOUTS,
        Summary.SHARE_OF_TIME,
    }
)

VALID: dict[str, frozenset[Summary]] = {
    "continuous": _ALL_TIMES,
    "instantaneous": frozenset({Summary.SHARE_OF_POINTS}),
    "one_zero": frozenset({Summary.SHARE_OF_INTERVALS}),
    "not_behaviour": frozenset(),
}
"""The validity matrix: recording rule to the summaries that it gives."""


def may_give(sampling_rule: str, recording_rule: str) -> frozenset[Summary]:
    """Give the summaries that hold under a sampling and a recording rule.

    Parameters
    ----------
    sampling_rule : {"focal", "scan", "behaviour", "ad_libitum", "measured", ""}
    recording_rule : {"continuous", "instantaneous", "one_zero", "not_behaviour", ""}

    Returns
    -------
    frozenset of Summary

    Notes
    -----
    Ad libitum sampling gives none: what was noted is what caught the eye, so neither rates nor
    budgets hold. All occurrences of one behaviour give its frequency alone.

    References
    ----------
    Altmann, J. (1974). Observational study of behavior: sampling methods. Behaviour 49, 227–267.
    Martin, P. and Bateson, P. Measuring Behaviour, on recording methods. Both from memory.

    Examples
    --------
    >>> may_give("scan", "instantaneous") == {Summary.SHARE_OF_POINTS}
    True
    >>> may_give("ad_libitum", "continuous")
    frozenset()
    """
    if sampling_rule == "ad_libitum":
        return frozenset()
    valid = VALID.get(recording_rule, frozenset())
    if sampling_rule == "behaviour":
        return valid & {Summary.FREQUENCY}
    return valid


def recording_caution(sampling_rule: str, recording_rule: str) -> str:
    """Give in words what a pair of rules cannot give; empty where nothing need be said.

    Parameters
    ----------
    sampling_rule, recording_rule : str
        As in `may_give`.

    Examples
    --------
    >>> recording_caution("focal", "continuous")
    ''
    """
    if sampling_rule == "ad_libitum":
        return (
            "Ad libitum notes give no rates and no time budgets: what is noted is what caught the "
            "eye. Use them to find what to record."
        )
    if sampling_rule == "scan" and recording_rule == "continuous":
        return (
            "A scan looks at each animal for a moment, so it cannot be recorded continuously: "
            "choose instantaneous recording, or focal sampling."
        )
    if sampling_rule == "behaviour" and recording_rule == "continuous":
        return "All occurrences of one behaviour give how often it was seen, not a time budget."
    return {
        "instantaneous": "Instantaneous recording gives the share of sample points alone: no "
        "frequency, no duration, no latency and no bouts.",
        "one_zero": "One-zero recording gives the share of intervals alone: it over-estimates "
        "duration and gives no frequency.",
    }.get(recording_rule, "")
