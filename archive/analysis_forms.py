"""Asking an analysis: which one, of which table, by which columns."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from archive import actions
from archive.analysing import ask_for, plan_of, repeat
from archive.analysis.asked.kinds import Request, fits, proposed
from archive.analysis.asked.offered import GROUPS, KINDS, for_plan
from archive.analysis.asked.slots import Kind
from archive.analysis.asked.zones import ZoneLineError, ZonePlan, zones_read
from archive.analysis_words import GROUPS_SAID, SAID, SLOTS, TEST_NAMES
from archive.columnar import tables_in
from archive.engine.roles import fields_of
from archive.models import Analysis, Dictionary, Version
from registry.choices import RowField
from registry.people.models import Person
from registry.permissions import Verb, allowed
from registry.projects.designed import standing
from registry.web import DeedForm, Words, day_field

_ON = "on_"

type Offered = tuple[str, Words, Words]
"""Name, title and words of an analysis."""
_GROUPED = [(GROUPS_SAID[group], [one.name for one in kinds]) for group, kinds in GROUPS.items()]


@dataclass(frozen=True)
class TableChoices:
    """A table, what the plan points to, what its dictionary has columns for, and what else."""

    table: str
    planned: list[Offered]
    ready: list[tuple[Words, list[Offered]]]
    others: list[tuple[Words, list[Offered]]]
    more: int


def _offered(kinds: Iterable[str]) -> list[Offered]:
    return [(one, *SAID[one]) for one in kinds]


def _worded(groups: list[tuple[Words, list[str]]]) -> list[tuple[Words, list[Offered]]]:
    """Give the groups that hold something."""
    return [(title, _offered(kinds)) for title, kinds in groups if kinds]


class AskAnalysis(DeedForm):
    """Which analysis, of which table and columns, and whether the plan named it."""

    sort = forms.ChoiceField(
        choices=[(name, said[0]) for name, said in SAID.items()], label=_("Analysis")
    )
    table = forms.CharField(label=_("Table"), max_length=200)
    title = forms.CharField(
        label=_("What it asks"), max_length=200, help_text=_("A short title; it stands above it.")
    )
    columns = forms.JSONField(
        label=_("Columns"),
        required=False,
        help_text=_("Over the API: an object, what is asked for to the name of its column."),
    )
    reference = forms.CharField(
        label=_("Compared with"),
        max_length=200,
        required=False,
        help_text=_("The arm with which others are compared; the first by its name if left out."),
    )
    arm = forms.CharField(
        label=_("The arm that is compared with it"),
        max_length=200,
        required=False,
        help_text=_("Only where there are more than two."),
    )
    test = forms.ChoiceField(
        label=_("Test"),
        choices=[("", _("the one that the program proposes")), *TEST_NAMES.items()],
        required=False,
        help_text=_("The program proposes one that keeps its level with few units, and says why."),
    )
    unseen = forms.CharField(
        label=_("Out of sight"),
        max_length=200,
        required=False,
        help_text=_("Codes that say that the animal could not be seen, parted by commas."),
    )
    minutes = forms.FloatField(
        label=_("Length of every session, in minutes"),
        required=False,
        min_value=0.01,
        max_value=100_000,
        help_text=_("Where no column says when sessions ended."),
    )
    target = forms.CharField(
        label=_("Which behaviour"),
        max_length=200,
        required=False,
        help_text=_("By its code. Left out, the outcome is asked about, or every state."),
    )
    every = forms.CharField(
        label=_("Seconds between scans"),
        max_length=200,
        required=False,
        help_text=_("To be tried, parted by commas; 15, 30, 60, 120, 300 if left out."),
    )
    repeats = forms.ChoiceField(
        label=_("May a behaviour follow itself?"),
        choices=[
            ("", _("as the plan’s rule of recording has it")),
            ("yes", _("yes, as in scans")),
            ("no", _("no, repeats are one bout")),
        ],
        required=False,
    )
    sound = forms.ChoiceField(
        label=_("Is it a level of sound?"),
        choices=[
            ("", _("no")),
            ("air", _("yes, decibels in air")),
            ("water", _("yes, decibels in water")),
        ],
        required=False,
        help_text=_("Levels are averaged by their energy, in air and in water apart."),
    )
    shortest = forms.IntegerField(
        label=_("Least sessions of a phase"),
        required=False,
        min_value=1,
        max_value=1000,
        help_text=_("Among what places the changes were drawn; empty where the register drew."),
    )
    base = forms.FloatField(
        label=_("Base in °C"),
        required=False,
        min_value=-50,
        max_value=60,
        help_text=_("Below it nothing develops; 0 if left out."),
    )
    scale = forms.ChoiceField(
        label=_("How the dose counts"),
        choices=[
            ("plain", _("as it is, such as a temperature")),
            ("logarithm", _("by its logarithm, such as a concentration")),
        ],
        required=False,
    )
    ranked = forms.CharField(
        label=_("Codes in their order"),
        max_length=1000,
        required=False,
        help_text=_("Where codes are steps, parted by commas: a weighted kappa stands beside."),
    )
    counts = forms.CharField(
        label=_("Columns of counts"),
        max_length=1000,
        required=False,
        help_text=_("Where each zone has a column of its own: their names, parted by commas."),
    )
    areas = forms.CharField(
        label=_("Sizes of the zones"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_(
            "One a line, as “sand = 1.5”, all in one unit. For a plan with zones where they lie "
            "write width x depth, and how far from the left and from the top: “sand = 2 x 0.75 at "
            "0, 3”."
        ),
    )
    versions = forms.ModelMultipleChoiceField(
        Version.objects.none(),
        label=_("Other cohorts"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    planned = forms.BooleanField(
        label=_("The plan named this outcome and this test"),
        required=False,
        help_text=_("Whatever else you ask is marked as exploratory."),
    )
    seed = forms.IntegerField(
        label=_("Seed"),
        required=False,
        min_value=1,
        help_text=_("Of every draw at random; 1 if left out. Another seed moves p a little."),
    )

    def fit(self) -> None:
        """Ask for what the chosen analysis needs, and for nothing else."""
        given: Mapping[str, Any] = self.data if self.is_bound else self.initial
        kind = KINDS.get(str(given.get("sort", "")))
        self.tables = {one["name"]: one for one in tables_in(self.subject)}
        self.is_chosen = False
        table = self.tables.get(str(given.get("table", "")))
        if kind is None or table is None:
            return
        self.is_chosen = True
        self._offer_slots(kind, table)
        self._drop_others(kind)
        if "versions" in self.fields:
            field: Any = self.fields["versions"]
            field.queryset = self._others()
        fields: Any = self.fields
        fields["sort"].widget = fields["table"].widget = forms.HiddenInput()
        if not self.is_bound or "columns" not in self.data:
            del fields["columns"]
        self.initial.setdefault("title", str(SAID[kind.name][0]))
        self.initial.setdefault("unseen", self._unseen(table))
        for name, value in self._by_plan().items():
            self.initial.setdefault(name, value)

    def _offer_slots(self, kind: Kind, table: Mapping[str, Any]) -> None:
        guessed = proposed(kind, table["schema"])
        by_object = self.is_bound and "columns" in self.data
        made: dict[str, forms.Field] = {}
        for slot in kind.slots:
            label, said = SLOTS[slot.name]
            names = [
                one["name"]
                for one in fields_of(table["schema"])
                if not slot.types or one.get("type", "any") in slot.types
            ]
            made[_ON + slot.name] = forms.ChoiceField(
                label=label,
                help_text=said,
                choices=[("", "—"), *((name, name) for name in names)],
                required=slot.is_needed and not by_object,
                initial=guessed.get(slot.name, ""),
            )
        first = {name: self.fields[name] for name in ("sort", "table", "title")}
        rest = {name: one for name, one in self.fields.items() if name not in first}
        self.fields = {**first, **made, **rest}

    def _drop_others(self, kind: Kind) -> None:
        for name in {one for each in KINDS.values() for one in each.options}:
            if name not in kind.options:
                del self.fields[name]

    def _others(self) -> Any:
        """Give the held versions of the study that one may read, one for each other cohort."""
        study = self.subject.dataset.project.study_id
        rows = Version.objects.held().filter(dataset__project__study=study)
        others = allowed(rows, self.by, Verb.VERSION_READ).exclude(dataset=self.subject.dataset_id)
        return others.select_related("dataset").order_by("dataset__title", "-pk")

    def _unseen(self, table: Mapping[str, Any]) -> str:
        """Give the codes of an ethogram whose words say that the animal is not seen."""
        codes = [
            str(entry.get("code"))
            for one in fields_of(table["schema"])
            for entry in one.get("x:ethogram") or []
            if "sight" in str(entry.get("name", "")) or "not seen" in str(entry.get("name", ""))
        ]
        return ", ".join(codes)

    @property
    def choices(self) -> list[TableChoices]:
        """Give for each table what can be asked of it, by the question that is answered."""
        found = []
        for name, table in self.tables.items():
            fit = {kind for kind, one in KINDS.items() if fits(one, table["schema"])}
            planned = [kind for kind in self._planned() if kind in fit]
            ready = [(title, [one for one in kinds if one in fit]) for title, kinds in _GROUPED]
            others = [
                (title, [one for one in kinds if one not in fit]) for title, kinds in _GROUPED
            ]
            more = len(KINDS) - len(fit)
            found.append(
                TableChoices(name, _offered(planned), _worded(ready), _worded(others), more)
            )
        return found

    def _planned(self) -> list[str]:
        """Give the analyses that rules of recording, design and draw of the plan point to."""
        if self.plan is None:
            return []
        size, drawn = self._part("size"), self._part("allocation")
        return for_plan(self.plan.recording_rule, size.get("design", ""), drawn.get("method", ""))

    def _by_plan(self) -> dict[str, Any]:
        """Give what the plan's schedule and its draw say already."""
        drawn, schedule = self._part("allocation"), self._part("schedule")
        said = {
            "minutes": schedule.get("length_min"),
            "shortest": drawn.get("shortest"),
            "reference": drawn.get("arms", [""])[0],
        }
        return {name: one for name, one in said.items() if one}

    def _part(self, name: str) -> Mapping[str, Any]:
        """Give what a sum of the plan was asked; nothing where it has none."""
        return self._parts[name].given if name in self._parts else {}

    @cached_property
    def _parts(self) -> Mapping[str, Any]:
        return standing(self.plan) if self.plan else {}

    @property
    def plan(self) -> Any:
        """The plan, of which the analysis stands beside the form."""
        return plan_of(self.subject)

    def clean_every(self) -> list[float]:
        """Read the seconds between scans."""
        try:
            found = [float(one) for one in _parted(self.cleaned_data["every"])]
        except ValueError:
            found = [0.0]
        if not all(0 < one < 1e6 for one in found):
            raise forms.ValidationError(_("Give seconds above 0, parted by commas."))
        return found

    def clean_areas(self) -> ZonePlan:
        """Read the zones with their sizes, and where they lie."""
        try:
            return zones_read(self.cleaned_data["areas"])
        except ZoneLineError as wrong:
            raise forms.ValidationError(
                _(
                    "Line %(number)s: write a zone, “=”, and its size as a number above 0, or its "
                    "width x depth."
                )
                % {"number": wrong.number}
            ) from None

    def clean(self) -> dict[str, Any]:
        """Gather the columns, as they were named one by one or as one object."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        named = given.get("columns") or {}
        if not isinstance(named, dict) or not all(isinstance(one, str) for one in named.values()):
            raise forms.ValidationError({"columns": _("Give an object of names of columns.")})
        chosen = {
            name.removeprefix(_ON): value
            for name, value in given.items()
            if name.startswith(_ON) and value
        }
        given["columns"] = {**named, **chosen}
        return given

    def act(self) -> Analysis:
        """Ask it."""
        given = self.cleaned_data
        named = set(KINDS[given["sort"]].options) - {"versions", "planned", "areas"}
        options: dict[str, Any] = {name: given[name] for name in sorted(named) if given.get(name)}
        for name in (one for one in ("unseen", "counts", "ranked") if one in options):
            options[name] = _parted(options[name])
        if "repeats" in options:
            options["repeats"] = options["repeats"] == "yes"
        if "areas" in given:
            zones: ZonePlan = given["areas"]
            laid = {"areas": zones.areas, "places": zones.places}
            options |= {name: one for name, one in laid.items() if one}
        request = Request(
            given["sort"], given["table"], given["columns"], options, given.get("seed") or 1
        )
        return ask_for(
            self.subject,
            request,
            title=given["title"],
            others=list(given.get("versions") or ()),
            is_planned=bool(given.get("planned")),
            by=self.by,
        )


def _parted(said: str) -> list[str]:
    return [one.strip() for one in said.split(",") if one.strip()]


class Repeat(DeedForm):
    """Nothing to fill in."""

    intro = _(
        "The worker computes it again from the same versions, columns and seed. The numbers that "
        "stand are kept; it is told whether the new ones are the same."
    )

    def act(self) -> Analysis:
        """Have it run again."""
        return repeat(self.subject, by=self.by)


class NameSitting(DeedForm):
    """Which pair of observers, whose test it was, by which dictionary, and when."""

    intro = _(
        "A dictionary may ask that observers agree with the standard coding before their data are "
        "accepted. This records who was tested, so that the gate knows."
    )
    pair = forms.ChoiceField(label=_("Observers"))
    person = RowField(Person.objects.none(), label=_("Whose test it was"))
    dictionary = forms.ModelChoiceField(
        Dictionary.objects.none(), label=_("Coded by"), empty_label=None
    )
    sat_on = day_field(_("Sat on"))

    def fit(self) -> None:
        """Offer its pairs, the people of the study and its dictionaries."""
        fields: Any = self.fields
        study = self.subject.version.dataset.project.study_id
        tables = {one["name"]: one["rows"] for one in self.subject.result.get("tables", [])}
        fields["pair"].choices = [(row[0], row[0]) for row in tables.get("pairs", [])]
        members = Person.objects.filter(memberships__project__study=study)
        fields["person"].queryset = members.distinct()
        fields["dictionary"].queryset = Dictionary.objects.filter(study=study)

    def act(self) -> Analysis:
        """Record it."""
        return actions.name_sitting(self.subject, **self.cleaned_data, by=self.by)
