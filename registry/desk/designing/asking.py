"""What every design is asked; the page and the API ask alike.

The sums need libraries that the process which serves pages loads only when somebody designs, so
nothing of them is imported here: a form names its design, and `made` finds it.
"""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from registry import design
from registry.animals.models import Taxon
from registry.permissions import Verb, allowed
from registry.projects.models import Project
from registry.web import day_field

type Words = Any


def number(label: Words, hint: Words = "", *, required: bool = True, first: Any = None) -> Any:
    """Give the field of a number."""
    widget = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    return forms.FloatField(
        label=label, help_text=hint, required=required, initial=first, widget=widget
    )


def whole(label: Words, hint: Words = "", *, required: bool = True, first: Any = None) -> Any:
    """Give the field of a whole number."""
    return forms.IntegerField(label=label, help_text=hint, required=required, initial=first)


_ENUMS = {"means": "Spread", "follow": "Follow", "by": "ShareTest"}
"""Fields whose value is the name of a member."""


_FURTHER = ("alpha", "sides", "spread_from")
_COLLECTION = ("available", "taxon", "project", "inherited", "first", "last")


class SizeForm(forms.Form):
    """How many units: leave out what is looked for."""

    design: ClassVar[str]
    title: ClassVar[Words]
    said: ClassVar[Words]
    keeps_no_draft = True

    effect = number(
        _("Smallest effect that would matter"),
        _("In the outcome’s own unit. Leave it out to learn what can be found."),
        required=False,
    )
    n = whole(
        _("Units in each arm"), _("Leave it out to learn how many are needed."), required=False
    )
    power = number(_("Power"), _("0.8 finds 8 of 10 such effects."), required=False, first=0.8)
    alpha = number(_("Significance level"), required=False, first=0.05)
    sides = forms.TypedChoiceField(
        label=_("Sides of the test"),
        choices=[(2, _("two")), (1, _("one"))],
        coerce=int,
        required=False,
    )
    spread_from = forms.CharField(
        label=_("Where the spread is from"),
        help_text=_("The identifier of a held version, or why it is assumed."),
        required=False,
        max_length=200,
    )
    available = whole(
        _("Units that can be had"),
        _("In all. Or choose the animals below, and they are counted."),
        required=False,
    )
    taxon = forms.ModelChoiceField(
        label=_("Animals"), queryset=Taxon.objects.order_by("common_name"), required=False
    )
    project = forms.ModelChoiceField(
        label=_("For the project"),
        help_text=_("What its approvals leave is counted too."),
        queryset=Project.objects.none(),
        required=False,
    )
    inherited = number(
        _("Share of the outcome that is inherited"),
        _("0 to 1; relatives then count as fewer. Left out, 0.4 is taken: middling, our rule."),
        required=False,
    )
    first = day_field(_("From"), required=False)
    last = day_field(_("Until"), required=False)

    always: ClassVar[tuple[str, ...]] = ("effect", "n", "power", *_FURTHER, *_COLLECTION)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(
            [*(name for name in self.fields if name not in self.always), *self.always]
        )

    def fit(self, person: Any) -> None:
        """Offer the projects whose plans this person may read."""
        running = Project.objects.running().select_related("study")
        field: Any = self.fields["project"]
        field.queryset = allowed(running, person, Verb.PROJECT_SEE_PLAN)

    def clean(self) -> dict[str, Any]:
        """Refuse a share that is none, and days that end before they begin."""
        cleaned = super().clean() or {}
        inherited = cleaned.get("inherited")
        if inherited is not None and not 0 <= inherited <= 1:
            self.add_error("inherited", _("A share lies between 0 and 1, such as 0.4."))
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", _("This day is before the first one."))
        return cleaned

    def made(self) -> Any:
        """Give the design.

        Raises
        ------
        Unsound
            Where a number is out of range.
        """
        given = {}
        for name, value in self.cleaned_data.items():
            if (name not in self.always or name in {"alpha", "sides"}) and value not in {None, ""}:
                kept = getattr(getattr(design, _ENUMS[name]), value) if name in _ENUMS else value
                given[name] = kept == "rise" if name == "rises" else kept
        return getattr(design, self.design)(**given)

    def own_fields(self) -> list[Any]:
        """Give the fields of the design, and the three that one of is looked for."""
        return [bound for bound in self if bound.name not in {*_FURTHER, *_COLLECTION}]

    def further(self) -> list[tuple[Words, list[Any], bool]]:
        """Give what is asked more rarely: heading, fields, and whether it stands open."""
        return [
            (heading, [self[name] for name in names], any(self.errors.get(name) for name in names))
            for heading, names in (
                (_("Level, sides, and source of the spread"), _FURTHER),
                (_("What the collection can bear"), _COLLECTION),
            )
        ]

    def looked_for(self) -> dict[str, Any]:
        """Give what `solve` is asked: the fields of the three that were filled."""
        return {name: self.cleaned_data.get(name) for name in ("n", "effect", "power")}


def numbers_in(text: str) -> tuple[float, ...]:
    """Read numbers parted by commas, spaces or semicolons; × is read too.

    Examples
    --------
    >>> numbers_in("0, 7; 14 × 28")
    (0.0, 7.0, 14.0, 28.0)
    """
    for sign in ";×,":
        text = text.replace(sign, " ")
    parts = text.split()
    try:
        found = tuple(float(one) for one in parts)
    except ValueError:
        raise ValidationError(_("Write numbers, parted by commas.")) from None
    if len(found) > 100 or not all(abs(one) <= 1e6 for one in found):  # nan is no number
        raise ValidationError(_("Write up to a hundred numbers, each up to a million."))
    return found
