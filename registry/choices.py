"""Rows of many: chosen from a list while they are few, named where they are many."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model, Q, QuerySet
from django.utils.translation import gettext as _

MOST_LISTED = MOST_TICKED = 200
"""Longer lists than these are slow to open and hopeless to look through."""

_NEAR = 6
_NUMBERED = re.compile(r"(?:.*,\s*)?no\.\s*([0-9]{1,18})\s*", re.IGNORECASE | re.DOTALL)
_NAMES = ("code", "name", "title", "reference", "email")


class Typed(str):
    """What a person typed, which is a name and never a bare number of a row."""

    __slots__ = ()


class Named:
    """A text in place of a list; it is sent under a name of its own, so that neither is taken
    for the other when rows become many between the form and its answer.
    """

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """Give what was typed, or else the numbers that a link or a program gives."""
        said = data.get(f"{name}_said")
        if said is not None:
            return Typed(said.strip())
        return self.numbers_in(data, name)

    def numbers_in(self, data: Any, name: str) -> Any:
        """Give the number of the row."""
        return data.get(name)

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        """Say whether neither was sent."""
        return name not in data and f"{name}_said" not in data

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        """Give the text's own name to the template."""
        context: dict[str, Any] = super().get_context(f"{name}_said", value, attrs)  # type: ignore[misc]  # why: a widget is beside it
        return context


class NameInput(Named, forms.TextInput):
    """One row, by name."""


class NamesInput(Named, forms.Textarea):
    """Rows, one a line."""

    def numbers_in(self, data: Any, name: str) -> Any:
        """Give the numbers of the rows."""
        return data.getlist(name) if hasattr(data, "getlist") else data.get(name)


def _rows(field: "RowField | RowsField") -> QuerySet[Any]:
    """Give the rows that a field offers."""
    assert field.queryset is not None
    return field.queryset


class RowField(forms.ModelChoiceField[Any]):
    """One of the rows offered: a list, or, past MOST_LISTED, its code, name or number as text."""

    def get_bound_field(self, form: Any, field_name: str) -> Any:
        """Settle, once for each form, whether there is a list to choose from."""
        if isinstance(self.widget, forms.Select) and _more_than(MOST_LISTED, _rows(self)):
            self.widget = NameInput()
            self.widget.is_required = self.required
            hint = _("Its code, its whole name, or its number as “no. 12”.")
            self.help_text = f"{self.help_text} {hint}".strip()
        return super().get_bound_field(form, field_name)

    def prepare_value(self, value: Any) -> Any:
        """Write a row that is chosen already with its name and its number."""
        is_named = isinstance(value, Typed) or value is None or value == ""
        if is_named or not isinstance(self.widget, NameInput):
            return super().prepare_value(value)
        try:
            row = value if isinstance(value, Model) else _rows(self).filter(pk=value).first()
        except (ValueError, OverflowError):
            row = None
        return _numbered(row) if row is not None else str(value)

    def to_python(self, value: Any) -> Any:
        """Give the row that was chosen or named.

        Raises
        ------
        ValidationError
            Where nothing answers to the name, with what comes near; or where several do.
        """
        if not isinstance(value, Typed):
            return super().to_python(value)
        return _named(_rows(self), value) if value else None


class RowsField(forms.ModelMultipleChoiceField[Any]):
    """Some of the rows offered: ticks, or, past MOST_TICKED, their codes, names or numbers.

    A number that no row can have is refused, not looked for.
    """

    is_cleaning = False

    def get_bound_field(self, form: Any, field_name: str) -> Any:
        """Settle, once for each form, whether there are boxes to tick."""
        is_ticked = isinstance(self.widget, forms.CheckboxSelectMultiple)
        if is_ticked and _more_than(MOST_TICKED, _rows(self)):
            self.widget = NamesInput(attrs={"rows": 4})
            self.widget.is_required = self.required
            hint = _("One a line: its code, its whole name, or its number as “no. 12”.")
            self.help_text = f"{self.help_text} {hint}".strip()
        return super().get_bound_field(form, field_name)

    def prepare_value(self, value: Any) -> Any:
        """Write rows that are chosen already with their names and numbers, one a line."""
        is_shown = isinstance(self.widget, NamesInput) and not self.is_cleaning
        if not is_shown or isinstance(value, Typed) or not value:
            return super().prepare_value(value)
        listed = value if isinstance(value, list | tuple | QuerySet) else [value]
        ids = [getattr(one, "pk", one) for one in listed]
        known = [one for one in ids if str(one).isdecimal() and len(str(one)) <= _DIGITS_OF_A_ROW]
        return "\n".join(map(_numbered, _rows(self).filter(pk__in=known)))

    def clean(self, value: Any) -> Any:
        """Give the rows."""
        if isinstance(value, Typed):
            names = [Typed(line.strip()) for line in value.splitlines() if line.strip()]
            value = [_named(_rows(self), name).pk for name in names[:MOST_TICKED]]
        for one in value if isinstance(value, list | tuple) else ():
            if len(str(one)) > _DIGITS_OF_A_ROW:
                raise ValidationError(
                    self.error_messages["invalid_choice"],
                    code="invalid_choice",
                    params={"value": f"{str(one)[:_DIGITS_OF_A_ROW]}…"},
                )
        self.is_cleaning = True  # Django prepares what it cleans as it prepares what it shows
        try:
            return super().clean(value)
        finally:
            self.is_cleaning = False


_DIGITS_OF_A_ROW = 18  # a number of 19 may be more than the 64 bits of a row's own


def _more_than(most: int, rows: QuerySet[Any]) -> bool:
    return len(rows.order_by().values_list("pk")[: most + 1]) > most


def _named(rows: QuerySet[Any], said: str) -> Any:
    """Give the one row that answers to a name or a number.

    Raises
    ------
    ValidationError
        Where nothing does, with what comes near; or where several do.
    """
    if found := _NUMBERED.fullmatch(said):
        row = rows.filter(pk=int(found[1])).first()
        named = [row] if row is not None else []
    else:
        named = list(_called(rows, said, "iexact")[:_NEAR])
    if len(named) == 1:
        return named[0]
    if named:
        several = "; ".join(map(_numbered, named))
        raise ValidationError(
            _("Several answer to “%(said)s”: %(several)s. Write one as it is here.")
            % {"said": said, "several": several}
        )
    near = "; ".join(map(_numbered, _called(rows, said, "istartswith")[:_NEAR]))
    if near:
        raise ValidationError(
            _("Nothing that may be chosen here answers to “%(said)s”. Did you mean %(near)s?")
            % {"said": said, "near": near}
        )
    raise ValidationError(
        _(
            "Nothing that may be chosen here answers to “%(said)s”. Write it as its own page does, "
            "or its number."
        )
        % {"said": said}
    )


def _called(rows: QuerySet[Any], said: str, how: str) -> QuerySet[Any]:
    """Give the rows that answer to a name; a kind whose name has parts says how, by `called`."""
    called = getattr(rows, "called", None)
    if called is not None:
        found: QuerySet[Any] = called(said, how)
        return found
    known = {field.name for field in rows.model._meta.concrete_fields}
    wanted = Q(pk__in=[])
    for name in _NAMES:
        if name in known:
            wanted |= Q(**{f"{name}__{how}": said})
    return rows.filter(wanted)


def _numbered(row: Any) -> str:
    return f"{row}, no. {row.pk}"
