"""The intake page of a file: what is proposed, each choice to be changed, before and after."""

import json
from collections.abc import Mapping
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from archive.engine.intake import Decision, Recipe
from archive.engine.intake.building import recipe_of
from archive.forms import DEPOSIT_DEEDS
from archive.intakes import Intake, convert_file, intake
from archive.models import Deposit, DepositFile
from registry.errors import NotPermitted, Refusal, Unseen
from registry.permissions import Verb, require
from registry.web import NarrowForm, acts_on, person_of, seen_or_404

_FEW = 4
_UNSURE = 0.7
_FILE = ("sheet", "encoding", "delimiter", "quote", "header")
DEED = DEPOSIT_DEEDS["convert"]


class Choices(NarrowForm):
    """One field for each decision of a proposal; what nothing tells has to be chosen."""

    keeps_no_draft = True

    def __init__(self, found: Intake, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.decisions = found.proposal.decisions
        for one in self.decisions:
            self.fields[named(one.key)] = _field(one)
        for name, value in (
            ("table", found.table if found.tables else ""),
            ("same", "yes" if found.is_same else ""),
            ("mark", found.mark),
        ):
            self.fields[name] = forms.CharField(
                required=False, initial=value, widget=forms.HiddenInput
            )

    @property
    def asked(self) -> list[forms.BoundField]:
        """Give what must be said, since nothing tells it."""
        return [self[named(one.key)] for one in self.decisions if one.is_asked]

    @property
    def doubtful(self) -> list[forms.BoundField]:
        """Give what is proposed and little speaks for."""
        return [self[named(one.key)] for one in self.decisions if _is_doubtful(one)]

    @property
    def others(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Give what is proposed and much speaks for, parted by what it is about."""
        parts: dict[str, list[forms.BoundField]] = {}
        for one in self.decisions:
            if not one.is_asked and not _is_doubtful(one):
                parts.setdefault(_part(one), []).append(self[named(one.key)])
        return list(parts.items())

    @property
    def other_count(self) -> int:
        """Give how many those are."""
        return sum(len(fields) for _, fields in self.others)


def _is_doubtful(one: Decision) -> bool:
    return bool(one.chosen) and one.confidence < _UNSURE


def _part(one: Decision) -> str:
    if one.is_about_a_column:
        return str(_("The columns"))
    return str(_("The file")) if one.key in _FILE else str(_("The rows"))


def named(key: str) -> str:
    """Give the name that a decision has on the page."""
    return key.replace(":", "-")


def _field(one: Decision) -> forms.Field:
    choices = [
        (option.value, f"{option.label}. {option.note}" if option.note else option.label)
        for option in one.options
    ]
    is_few = len(choices) <= _FEW
    if not is_few and one.is_asked:
        choices = [("", str(_("Choose"))), *choices]
    return forms.ChoiceField(
        choices=choices,
        label=one.question,
        help_text=one.reason,
        initial=one.chosen or None,
        widget=forms.RadioSelect if is_few else forms.Select,
    )


@login_required
def page(request: HttpRequest, pk: int, file: int) -> HttpResponse:
    """Show what is proposed for a file, show it anew by other choices, or convert it."""
    person = person_of(request)
    rows = Deposit.objects.select_related("dataset__project__study", "dictionary", "maker")
    deposit = seen_or_404(rows, person, pk)
    found = DepositFile.objects.filter(deposit=deposit, pk=file).first()
    if found is None:
        raise Unseen(
            "The deposit has no such file.", "It was not found at this address.", "Go back to it."
        )
    context: dict[str, Any] = {
        "deposit": deposit,
        "file": found,
        "may_convert": any(act["path"] == "convert" for act in acts_on(deposit, person)),
        "recipes": found.recipes.select_related("result", "made_by"),
    }
    sent = request.method == "POST"
    given = request.POST if sent else request.GET
    if sent:
        require(person, Verb.DEPOSIT_CONVERT, deposit)
    is_told = not sent or "again" in given
    answers = (
        {name.replace("-", ":"): str(given.get(name)) for name in given if given.get(name)}
        if sent
        else {}
    )
    status = 200
    try:
        look = intake(
            deposit,
            found,
            table=given.get("table", ""),
            is_same=given.get("same") == "yes",
            answers=answers,
        )
        if given.get("mark", look.mark) != look.mark:
            # What was said of columns was said of others: they are proposed anew.
            kept = {key: value for key, value in answers.items() if ":" not in key}
            look = intake(
                deposit,
                found,
                table=given.get("table", ""),
                is_same=given.get("same") == "yes",
                answers=kept,
            )
        context |= _shown(look)
        if not is_told:
            made = convert_file(
                deposit, look, answers=answers, mark=given.get("mark", ""), by=person
            )
            messages.success(request, DEED.done)
            if left := made.made_by.get().left_said:
                messages.warning(request, left)
            return HttpResponseRedirect(deposit.get_absolute_url())
    except (NotPermitted, Unseen):
        raise
    except Refusal as refused:
        context["refusal"], status = refused, refused.status
        if "look" in context and refused.fields:
            context["form"] = _complained(context["look"], refused.fields)
    return render(request, "archive/intake.html", context, status=status)


def _complained(look: Intake, complaints: Mapping[str, str]) -> Choices:
    """Give the form as it was sent, with the complaint beside each field that has one."""
    blank = Choices(look)
    sent = {named(one.key): one.chosen for one in look.proposal.decisions}
    hidden = {name: blank.fields[name].initial for name in ("table", "same", "mark")}
    form = Choices(look, sent | hidden)
    form.full_clean()
    for key, complaint in complaints.items():
        if named(key) in form.fields and named(key) not in form.errors:
            form.add_error(named(key), complaint)
    return form


def _shown(look: Intake) -> dict[str, Any]:
    """Give the parts of the page that follow from a look at the file."""
    made = look.proposal
    last = look.last
    return {
        "look": look,
        "replaces": look.replaces,
        "proposal": made,
        "form": Choices(look),
        "asked": len(made.asked),
        "steps": recipe_of(made, {}, is_preview=True).words(),
        "before": _padded(made.before),
        "heads": made.after[0][1:] if made.after else (),
        "after": made.after[1:],
        "last": last,
        "last_steps": Recipe.from_json(json.dumps(last.recipe)).words() if last else [],
    }


def _padded(rows: tuple[tuple[str, ...], ...]) -> list[list[str]]:
    """Give rows of one width, so that they stand in a table."""
    width = max((len(row) for row in rows), default=0)
    return [[*row, *[""] * (width - len(row))] for row in rows]
