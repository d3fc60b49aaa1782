"""What an analysis could not compute, and why; the rest is computed all the same."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Gap:
    """Something that is not among the results.

    Parameters
    ----------
    what, why : str
        Two sentences: what cannot be computed or was left out, and the reason.

    Examples
    --------
    >>> Gap("No interval over animals.", "There is but one animal.").said
    'No interval over animals. There is but one animal.'
    """

    what: str
    why: str

    @property
    def said(self) -> str:
        """Both sentences."""
        return f"{self.what} {self.why}"


def few_named(names: list[str], most: int = 5) -> str:
    """List some names and how many more there are.

    Examples
    --------
    >>> few_named(["Moss", "Fern", "Reed"], most=2)
    'Moss, Fern and 1 more'
    """
    shown, more = names[:most], len(names) - most
    if more > 0:
        return f"{', '.join(shown)} and {more} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
