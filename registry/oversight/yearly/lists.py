"""The categories that a return asks for: dated lists, of which the year decides which holds."""

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Category:
    """One category of a list.

    Parameters
    ----------
    code, name : str
    from_year : int
        The first year for which it is asked.
    until_year : int or None
        The last one; None while it is asked.
    genera : str
        Of species: first words of scientific names, with spaces between; they go before classes.
    classes : str
        Of species: classes of the register, with spaces between.
    """

    code: str
    name: str
    from_year: int
    until_year: int | None = None
    genera: str = ""
    classes: str = ""

    def holds_in(self, year: int) -> bool:
        """Say whether it is asked for a year."""
        return self.from_year <= year and (self.until_year is None or year <= self.until_year)


@dataclass(frozen=True, slots=True)
class SpeciesList:
    """The categories of species that a return of one year asks for."""

    year: int
    categories: tuple[Category, ...]
    _genera: dict[str, str] = field(init=False)
    _classes: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        by = {
            name: {word: one.code for one in self.categories for word in getattr(one, name).split()}
            for name in ("genera", "classes")
        }
        object.__setattr__(self, "_genera", by["genera"])
        object.__setattr__(self, "_classes", by["classes"])

    def category(self, scientific_name: str, animal_class: str) -> str:
        """Give the code of a species' category; a class that is not reported gives an empty one.

        Examples
        --------
        >>> held = [Category("other-fish", "Other fish", 2021, classes="bony_fish")]
        >>> species_of(held, 2026).category("Cyclopterus lumpus", "bony_fish")
        'other-fish'
        """
        genus = scientific_name.split(" ", 1)[0]
        return self._genera.get(genus) or self._classes.get(animal_class, "")


def species_of(held: Iterable[Category], year: int) -> SpeciesList:
    """Give the list of species that holds for procedures which ended in a year.

    Raises
    ------
    LookupError
        When no list as old as that is held.
    """
    found = tuple(one for one in held if one.holds_in(year))
    if not found:
        raise LookupError(f"no list of categories is held for {year}")
    return SpeciesList(year, found)
