"""What can be asked of a table, by the question that it answers. No numbers are loaded."""

from archive.analysis.asked.slots import DAYS, MOMENTS, NUMBERS, Kind, Slot
from archive.engine.roles import FieldRole as R

_UNIT = Slot("unit", (R.UNIT, R.GROUP, R.ANIMAL))
_ARM = Slot("treatment", (R.TREATMENT,), is_needed=False)
_BESIDE = ("reference", "test", "planned")
_ANIMAL = Slot("animal", (R.ANIMAL, R.GROUP, R.UNIT))
_SESSION = Slot("session", (R.SESSION,), is_needed=False)
_BOUTS = (
    _ANIMAL,
    Slot("behaviour", (R.BEHAVIOUR, R.OUTCOME)),
    Slot("begin", (R.TIME,), MOMENTS),
    Slot("end", (R.TIME,), MOMENTS, is_needed=False),
    _SESSION,
    Slot("opened", (), MOMENTS, is_needed=False),
    Slot("closed", (), MOMENTS, is_needed=False),
)

GROUPS: dict[str, tuple[Kind, ...]] = {
    "doing": (
        Kind(
            "budget",
            (
                _ANIMAL,
                Slot("behaviour", (R.BEHAVIOUR, R.OUTCOME)),
                _SESSION,
                Slot("time", (R.TIME,), frozenset({"datetime"}), is_needed=False),
            ),
            ("unseen",),
        ),
        Kind(
            "one_zero",
            (
                _ANIMAL,
                Slot("behaviour", (R.BEHAVIOUR, R.OUTCOME)),
                Slot("interval", (R.TIME, R.COVARIATE)),
                _SESSION,
            ),
            ("unseen",),
        ),
        Kind("bouts", _BOUTS, ("unseen", "minutes")),
        Kind(
            "sequence",
            (
                _ANIMAL,
                Slot("behaviour", (R.BEHAVIOUR, R.OUTCOME)),
                _SESSION,
                Slot("begin", (R.TIME,), MOMENTS, is_needed=False),
            ),
            ("unseen", "repeats"),
        ),
        Kind(
            "space",
            (_ANIMAL, Slot("zone", (R.PLACE, R.OUTCOME), is_needed=False)),
            ("counts", "areas"),
        ),
    ),
    "differing": (
        Kind(
            "comparison",
            (
                Slot("outcome", (R.OUTCOME,), NUMBERS),
                Slot("of", (), NUMBERS, is_needed=False),
                _UNIT,
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "reversal",
            (
                Slot("outcome", (R.OUTCOME,), NUMBERS),
                Slot("animal", (R.ANIMAL, R.UNIT, R.GROUP)),
                Slot("phase", (R.TREATMENT,)),
                Slot("order", (R.TIME, R.SESSION)),
            ),
            ("reference", "shortest", "planned"),
        ),
        Kind(
            "along",
            (
                Slot("covariate", (R.COVARIATE,), NUMBERS),
                _ANIMAL,
                Slot("session", (R.SESSION,)),
                Slot("behaviour", (R.BEHAVIOUR,), is_needed=False),
                Slot("outcome", (R.OUTCOME,), NUMBERS, is_needed=False),
                Slot("medium", (), is_needed=False),
            ),
            ("target", "unseen", "sound", "planned"),
        ),
    ),
    "growing": (
        Kind(
            "growth",
            (
                Slot("mass", (R.OUTCOME,), NUMBERS),
                Slot("time", (R.TIME,), DAYS),
                _UNIT,
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "condition",
            (
                Slot("mass", (R.OUTCOME,), NUMBERS),
                Slot("length", (R.OUTCOME, R.COVARIATE), NUMBERS),
                _UNIT,
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "feeding",
            (
                Slot("feed", (R.COVARIATE, R.OUTCOME), NUMBERS),
                Slot("gain", (R.OUTCOME,), NUMBERS),
                _UNIT,
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "hatching",
            (
                Slot("fertile", (R.COVARIATE, R.OUTCOME), NUMBERS),
                Slot("hatched", (R.OUTCOME,), NUMBERS),
                Slot("laid", (), NUMBERS, is_needed=False),
                Slot("unit", (R.UNIT, R.PLACE, R.GROUP)),
                _ARM,
            ),
            _BESIDE,
        ),
        Kind(
            "survival",
            (
                Slot("time", (R.OUTCOME,), NUMBERS),
                Slot("happened", (), is_needed=False),
                Slot("unit", (R.UNIT, R.PLACE, R.GROUP, R.ANIMAL)),
                _ARM,
            ),
            _BESIDE,
        ),
    ),
    "warming": (
        Kind(
            "warmth",
            (
                Slot("lowest", (R.COVARIATE, R.OUTCOME), NUMBERS),
                Slot("highest", (), NUMBERS, is_needed=False),
                Slot("time", (R.TIME,), DAYS),
                Slot("unit", (R.UNIT, R.PLACE, R.GROUP), is_needed=False),
            ),
            ("base",),
        ),
        Kind(
            "rates",
            (
                Slot("rate", (R.OUTCOME,), NUMBERS),
                Slot("temperature", (R.TREATMENT, R.COVARIATE), NUMBERS),
                _UNIT,
                Slot("family", (), is_needed=False),
            ),
            ("planned",),
        ),
        Kind(
            "response",
            (
                Slot("dose", (R.TREATMENT, R.COVARIATE), NUMBERS),
                Slot("responded", (R.OUTCOME,), NUMBERS),
                Slot("of", (R.COVARIATE, R.OUTCOME), NUMBERS),
                _UNIT,
            ),
            ("scale", "planned"),
        ),
    ),
    "trusting": (
        Kind(
            "agreement",
            (
                Slot("moment", (R.TIME, R.COVARIATE)),
                Slot("observer", (R.OBSERVER,)),
                Slot("behaviour", (R.BEHAVIOUR,)),
                _SESSION,
            ),
            ("ranked",),
        ),
        Kind(
            "measured",
            (
                Slot("moment", (R.ANIMAL, R.UNIT, R.TIME)),
                Slot("observer", (R.OBSERVER,)),
                Slot("outcome", (R.OUTCOME,), NUMBERS),
            ),
        ),
        Kind("interval", _BOUTS, ("target", "every", "unseen", "minutes")),
    ),
    "together": (
        Kind(
            "cohorts",
            (Slot("outcome", (R.OUTCOME,), NUMBERS), _UNIT, Slot("treatment", (R.TREATMENT,))),
            ("reference", "arm", "versions", "planned"),
        ),
    ),
}
"""Analyses by what people want to know."""

KINDS: dict[str, Kind] = {one.name: one for group in GROUPS.values() for one in group}

PLANNED: dict[str, frozenset[str]] = {
    "TankMeans": frozenset({"unit_t", "welch_t", "as_randomised"}),
    "TwoGroups": frozenset({"unit_t", "welch_t", "as_randomised"}),
    "SeveralGroups": frozenset({"unit_f", "among_arms_as_randomised"}),
    "RankedGroups": frozenset({"rank_sum"}),
    "Pairs": frozenset({"paired_t"}),
    "Followed": frozenset({"unit_t"}),
    "RankedPairs": frozenset({"signed_ranks"}),
    "Crossover": frozenset({"paired_t", "orders_as_randomised", "phases_as_randomised"}),
    "Slopes": frozenset({"unit_t", "welch_t", "as_randomised"}),
    "TankShares": frozenset({"logit_t", "quasi_binomial", "as_randomised"}),
    "Waiting": frozenset({"tank_log_rank"}),
}
"""The design of a plan's replication, and the tests that it reckons with."""

_RECORDED = {
    "instantaneous": ("budget", "sequence"),
    "continuous": ("bouts", "sequence"),
    "one_zero": ("one_zero",),
}
_DESIGNED = {
    "TankMeans": ("comparison", "growth", "feeding"),
    "TankShares": ("hatching",),
    "Waiting": ("survival",),
    "Followed": ("comparison", "growth"),
    "Slopes": ("growth",),
}


_DRAWN = {"phases": ("reversal",), "crossover": ("comparison", "reversal")}


def for_plan(recording: str, design: str, drawn: str = "") -> list[str]:
    """Give the analyses that a plan's rule of recording, its design and its draw point to.

    Parameters
    ----------
    recording : str
        Recording rule of the plan; "" where none was named.
    design : str
        Name of the design of its replication; "" where none stands.
    drawn : str, default ""
        Method by which it is drawn who gets what.

    Examples
    --------
    >>> for_plan("instantaneous", "TankShares")
    ['budget', 'sequence', 'hatching']
    """
    compared = ("comparison",) if design in PLANNED else ()
    found = (
        *_RECORDED.get(recording, ()),
        *_DRAWN.get(drawn, ()),
        *_DESIGNED.get(design, compared),
    )
    return list(dict.fromkeys(found))
