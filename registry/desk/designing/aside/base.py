"""What every form beside the tests answers with."""

from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms

from registry.desk.designing.asking import Words


@dataclass(frozen=True)
class Said:
    """An answer in words, with a table where there is one.

    Parameters
    ----------
    said : str
    notes : tuple of str
    source : str
    heads : tuple of str
        Heads of the table; empty where there is none.
    rows : tuple of tuple
    """

    said: str
    notes: tuple[str, ...] = ()
    source: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Give the answer as the API shows it."""
        rows = [dict(zip(self.heads, map(str, row), strict=True)) for row in self.rows]
        return {"said": self.said, "notes": list(self.notes), "source": self.source, "rows": rows}


class AsideForm(forms.Form):
    """Something that a plan may ask beside a test."""

    title: ClassVar[Words]
    said: ClassVar[Words]
    keeps_no_draft = True

    def own_fields(self) -> list[Any]:
        """Give all fields."""
        return list(self)

    def answered(self) -> Said:
        """Answer a form that is filled.

        Raises
        ------
        Unsound
            Where a number is out of range.
        """
        raise NotImplementedError

    def given(self, name: str, usual: Any) -> Any:
        """Give what was filled in, or what is usual."""
        found = self.cleaned_data.get(name)
        return usual if found in {None, ""} else found
