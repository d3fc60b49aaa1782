"""Fields that several forms of this slice share."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from registry.choices import RowsField
from registry.projects.models import Procedure, Project
from registry.web import Words

LOCAL_CODES = _(
    "The law, your collection's codes and the veterinary surgeon's word stand above this page; the "
    "program warns, and a named person decides."
)
MINUTE = "%Y-%m-%dT%H:%M"


def moment_field(label: Words, help_text: Words = "") -> forms.DateTimeField:
    """Give the field for a day and a time at the site."""
    return forms.DateTimeField(
        label=label,
        help_text=help_text,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=MINUTE),
    )


def text_field(
    label: Words, help_text: Words = "", *, required: bool = True, rows: int = 4
) -> forms.CharField:
    """Give the field for some sentences."""
    return forms.CharField(
        label=label,
        help_text=help_text,
        required=required,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def ticks(queryset: Any, label: Words, help_text: Words = "", *, required: bool = True) -> Any:
    """Give a list of rows to tick."""
    return RowsField(
        queryset,
        label=label,
        help_text=help_text,
        required=required,
        widget=forms.CheckboxSelectMultiple,
    )


def said_with(
    field: Any,
    bars: Mapping[int, Sequence[str]],
    *,
    also: Mapping[int, str] | None = None,
    free: Words = "",
) -> None:
    """Let each choice say beside its name why it is barred, or that it is free."""

    def label(row: Any) -> str:
        words = [described(row), (also or {}).get(row.pk, "")]
        said = bars.get(row.pk, ())
        words.append(_("Barred: %(why)s") % {"why": " ".join(said)} if said else str(free))
        return ". ".join(word.rstrip(".") for word in words if word)

    field.label_from_instance = label


def procedures_for(project: Project) -> Any:
    """Give every procedure, those of the project's plan first."""
    planned = Procedure.objects.filter(pk=OuterRef("pk"), plans__project=project)
    return Procedure.objects.annotate(is_planned=Exists(planned)).order_by("-is_planned", "name")


def described(row: Any) -> str:
    """Give an animal, a group, or what holds one, with what tells it apart; each name once."""
    subject = getattr(row, "animal", None) or getattr(row, "group", None) or row
    code = getattr(row, "code", "") if row is not subject else ""
    parts = _once([code, str(subject), subject.code])
    parts.append(f"{subject.taxon}, {subject.get_life_stage_display()}")
    number = getattr(row, "number", 1)
    if getattr(row, "group_id", None) is not None:
        parts.append(
            ngettext("%(number)s animal", "%(number)s animals", number) % {"number": number}
        )
    return ", ".join(parts)


def _once(names: Sequence[str]) -> list[str]:
    """Leave out a name that one before it says already, whatever its case and its signs."""
    kept: dict[str, str] = {}
    for name in filter(None, names):
        bare = "".join(filter(str.isalnum, name.casefold()))
        if not any(bare in earlier for earlier in kept):
            kept[bare] = name
    return list(kept.values())
