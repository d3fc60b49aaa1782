"""Fields that the forms of this slice share."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from registry.choices import RowsField
from registry.web import DeedForm, Words


def text_field(
    label: Words, help_text: Words = "", rows: int = 4, *, required: bool = True
) -> forms.CharField:
    """Give a field for some paragraphs."""
    return forms.CharField(
        label=label,
        help_text=help_text,
        max_length=8000,
        required=required,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def several(queryset: QuerySet[Any], label: Words, help_text: Words = "") -> Any:
    """Give a field in which any number of rows may be ticked."""
    return RowsField(
        queryset,
        label=label,
        help_text=help_text,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )


def choose(form: DeedForm, name: str, queryset: QuerySet[Any]) -> None:
    """Offer these rows in a field."""
    field: Any = form.fields[name]
    field.queryset = queryset
