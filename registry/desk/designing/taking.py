"""The deed that takes a sum into a plan: the same JSON as the sums themselves are asked with."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from registry import design
from registry.desk.designing.forms import FORMS
from registry.desk.designing.shapes import (
    AllocateSerializer,
    ScheduleSerializer,
    SimulateSerializer,
)
from registry.errors import Unsound
from registry.permissions import Verb
from registry.projects import actions
from registry.projects.models import DesignPart, Project
from registry.rest import in_line
from registry.web import Deed, DeedForm, check_form, deeds

MOST_DRAWN = 40_000_000
"""Numbers that one request may draw: a second or two of computing."""

type Given = dict[str, Any]


def size_given(form: Any) -> Given:
    """Give what a filled form of replication asks, as a plan keeps it."""
    found: Given = design.plain(
        form.made(), **form.looked_for(), spread_from=form.cleaned_data.get("spread_from") or ""
    )
    return found


def _size(sent: Mapping[str, Any]) -> Given:
    kind = sent.get("design")
    if not isinstance(kind, str) or kind not in FORMS:
        raise Unsound(
            "There is no such design.",
            said("“%(kind)s” is none of: %(forms)s.")
            % {"kind": str(kind)[:60], "forms": ", ".join(FORMS)},
            "Name one of these in the field “design”.",
            fields={"given": "There is no such design."},
        )
    form = FORMS[kind]({name: "" if one is None else str(one) for name, one in sent.items()})
    check_form(form)
    return size_given(form)


def _checked(shape: type[serializers.Serializer[Any]], sent: Mapping[str, Any]) -> Given:
    """Read what was sent by the shape of its address in the API."""
    read = shape(data=sent)
    if read.is_valid():
        found: Given = read.validated_data
        return found
    said = "; ".join(f"{name}: {in_line(problem)}" for name, problem in read.errors.items())
    raise Unsound(
        "This could not be reckoned with.", said, "Mend these and send it again.",
        fields={"given": said},
    )  # fmt: skip


def schedule_given(read: Mapping[str, Any], seed: str) -> Given:
    """Give a schedule that was read in plain facts, in the collection's own time."""

    def here(moment: datetime) -> str:
        return timezone.localtime(moment).replace(tzinfo=None).isoformat()

    return {
        "animals": list(read["animals"]),
        "days": [one.isoformat() for one in read["days"]],
        "slots": [[f"{one['start']:%H:%M}", one["crowding"]] for one in read["slots"]],
        "length_min": read["length_min"],
        "busy": [
            {
                "begins": here(one["begins"]),
                "ends": here(one["ends"]),
                "what": one["what"],
                "animals": list(one.get("animals", [])),
            }
            for one in read.get("busy", [])
        ],
        **{name: read[name] for name in ("per_day", "watched") if read.get(name)},
        "seed": seed,
    }


def _schedule(sent: Mapping[str, Any]) -> Given:
    read = _checked(ScheduleSerializer, sent)
    return schedule_given(read, read.get("seed") or design.new_seed().hex())


def _allocation(sent: Mapping[str, Any]) -> Given:
    read = _checked(AllocateSerializer, sent)
    # The seed of a plan is secret: it is drawn when the plan is accepted, never sent.
    return {name: one for name, one in read.items() if name not in {"seed", "codes"}}


def _simulation(sent: Mapping[str, Any]) -> Given:
    read = dict(_checked(SimulateSerializer, sent))
    drawable(read)
    return read


def drawable(read: Mapping[str, Any]) -> None:
    """Refuse what a request would wait for too long; permutations cost as many times more."""
    permutes = read["analysis"] in {"unit_permutation", "unit_ranks", "block_signs"}
    values = len(read["means"]) * read["units"] * read["per_unit"]
    if values * read["runs"] * (60 if permutes else 1) > MOST_DRAWN:
        raise Unsound(
            "So much cannot be drawn while somebody waits.",
            said("%(read)s studies of %(values)s values are more than one request may draw.")
            % {"read": f"{read['runs']:,}", "values": f"{values:,}"},
            "Ask for fewer runs here, or simulate in a notebook with registry.design.",
            fields={"runs": "Ask for fewer runs."},
        )


_READ: dict[str, Callable[[Mapping[str, Any]], Given]] = {
    "size": _size,
    "simulation": _simulation,
    "allocation": _allocation,
    "schedule": _schedule,
}


def read(part: str, sent: Mapping[str, Any]) -> Given:
    """Give what was sent for a part of a design as a plan keeps it.

    Raises
    ------
    Unsound
        Where something is missing, out of range, or more than can be waited for.
    """
    return _READ[part](sent)


class UseDesign(DeedForm):
    """What was reckoned, and all that it was given."""

    intro = _(
        "Work it out on the pages of design first, and take it into the plan from there: it comes "
        "with all that it was given, and is reckoned again here."
    )
    keeps_no_draft = True

    part = forms.ChoiceField(label=_("What was reckoned"), choices=DesignPart.Part.choices)
    given = forms.JSONField(
        label=_("What it was given"),
        help_text=_("As the address of that sum in the API takes it."),
    )

    def act(self) -> Project:
        """Take it."""
        sent = self.cleaned_data["given"]
        if not isinstance(sent, dict):
            raise Unsound(
                "It was not taken into the plan.",
                "What it was given is not a set of named values.",
                "Work it out on the page of designs, and take it from there.",
                fields={"given": "Give names and values."},
            )
        part = self.cleaned_data["part"]
        return actions.use_design(self.subject, part=part, given=read(part, sent), by=self.by)


DESIGN_DEEDS = deeds(
    Deed(
        Verb.PROJECT_USE_DESIGN,
        UseDesign,
        _("Take a sum into the plan"),
        _("What was reckoned for this plan?"),
    )
)
