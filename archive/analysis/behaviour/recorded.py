"""How behaviour was recorded, and what is refused because it was."""

from dataclasses import dataclass

from registry.design import bounds
from registry.design.recording import Summary, may_give, recording_caution


@dataclass(frozen=True, slots=True)
class Recorded:
    """The sampling and the recording rule of a table.

    Parameters
    ----------
    sampling : {"focal", "scan", "behaviour", "ad_libitum", "measured", ""}
    recording : {"continuous", "instantaneous", "one_zero", "not_behaviour", ""}

    Notes
    -----
    Which rules give which summary stands in `registry.design.may_give`, with its sources.
    """

    sampling: str
    recording: str

    def gives(self, summary: Summary) -> bool:
        """Whether a summary holds under these rules."""
        return summary in may_give(self.sampling, self.recording)

    def must_give(self, summary: Summary) -> None:
        """Refuse a summary that these rules cannot give.

        Raises
        ------
        Unsound
            With the reason and with what can be given.

        Examples
        --------
        >>> Recorded("scan", "instantaneous").must_give(Summary.SHARE_OF_POINTS)
        """
        if self.gives(summary):
            return
        able = sorted(one.value for one in may_give(self.sampling, self.recording))
        bounds.refuse(
            "recording",
            f"The {summary.value} cannot be computed from these data.",
            recording_caution(self.sampling, self.recording)
            or f"The rules of recording (“{self.sampling}”, “{self.recording}”) do not give it.",
            f"Ask for the {' or the '.join(able)}."
            if able
            else "Record again by a rule that gives it: see the plan's page on recording.",
        )


SCANS = Recorded("scan", "instantaneous")
INTERVALS = Recorded("focal", "one_zero")
CONTINUOUS = Recorded("focal", "continuous")
