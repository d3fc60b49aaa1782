"""Asking an analysis: which one, of which table, by which columns."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from archive import actions
from archive.analysing import ask_for, plan_of, repeat
from archive.analysis.asked.kinds import KINDS, Kind, Request, fits, proposed
from archive.analysis.asked.zones import ZoneLineError, ZonePlan, zones_read
from archive.columnar import tables_in
from archive.engine.roles import fields_of
from archive.models import Analysis, Dictionary, Version
from registry.choices import RowField
from registry.people.models import Person
from registry.permissions import Verb, allowed
from registry.web import DeedForm, Words, day_field

SAID: dict[str, tuple[Words, Words]] = {
    "budget": (
        _("Time budget"),
        _("Scans at set moments: the share of each behaviour, over animals."),
    ),
    "space": (_("Use of space"), _("Sightings in zones: how evenly animals use what they have.")),
    "comparison": (
        _("Comparison"),
        _("One outcome, a number or a count out of a total, between treatments."),
    ),
    "growth": (_("Growth"), _("Weighings over time: the growth rate of each unit, by treatment.")),
    "hatching": (_("Hatching success"), _("Eggs laid, fertile and hatched, by treatment.")),
    "survival": (
        _("Time until something happens"),
        _("Hatching, settling, dying: curves by treatment, what had not happened included."),
    ),
    "agreement": (
        _("Agreement of observers"),
        _("The same moments coded by several: kappa, with its interval."),
    ),
    "cohorts": (
        _("Cohorts together"),
        _("What each cohort found, and what they say as one, with a forest plot."),
    ),
}
"""The name of each analysis, and what it is of."""

SLOTS: dict[str, tuple[Words, Words]] = {
    "animal": (_("Animal"), _("Each animal counts once, however often it was seen.")),
    "behaviour": (_("Behaviour"), ""),
    "session": (_("Session"), ""),
    "time": (_("Time"), _("A day, a moment, or a length of time.")),
    "zone": (_("Zone"), ""),
    "outcome": (_("Outcome"), ""),
    "of": (_("Out of"), _("Only where the outcome is a count: the column of its totals.")),
    "unit": (_("Unit"), _("What the treatment was given to: a tank, not the fish in it.")),
    "treatment": (
        _("Treatment"),
        _("Leave it empty to take the arms from the register’s draw, once revealed."),
    ),
    "mass": (_("Mass"), ""),
    "fertile": (_("Fertile eggs"), ""),
    "hatched": (_("Hatched"), ""),
    "laid": (_("Laid"), ""),
    "happened": (_("Whether it happened"), _("Leave it empty where it happened in every row.")),
    "moment": (_("Moment"), _("What is the same for all observers of one moment.")),
    "observer": (_("Observer"), ""),
}
_ON = "on_"
TEST_NAMES: dict[str, Words] = {
    "unit_t": _("t test of unit means"),
    "welch_t": _("Welch’s t test of unit means"),
    "rank_sum": _("Wilcoxon–Mann–Whitney rank sum, exact"),
    "as_randomised": _("randomisation test by the recorded draw"),
    "paired_t": _("paired t test"),
    "signed_ranks": _("Wilcoxon signed ranks, exact"),
    "unit_f": _("analysis of variance of unit means"),
    "kruskal_wallis": _("Kruskal–Wallis, exact"),
    "among_arms_as_randomised": _("randomisation test of several arms by the recorded draw"),
    "friedman": _("Friedman, exact"),
    "page": _("Page’s trend, exact"),
    "logit_t": _("t test of empirical logits of units"),
    "quasi_binomial": _("quasi-binomial t test"),
}


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
        for name in (
            "reference",
            "arm",
            "test",
            "unseen",
            "counts",
            "areas",
            "versions",
            "planned",
        ):
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
    def choices(self) -> list[tuple[str, list[tuple[str, Words, Words, bool]]]]:
        """Give for each table which analyses there are, and whether its dictionary fits them."""
        return [
            (
                name,
                [(kind, *SAID[kind], fits(KINDS[kind], table["schema"])) for kind in KINDS],
            )
            for name, table in self.tables.items()
        ]

    @property
    def plan(self) -> Any:
        """The plan, of which the analysis stands beside the form."""
        return plan_of(self.subject)

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
        options: dict[str, Any] = {
            name: given[name] for name in ("reference", "arm", "test") if given.get(name)
        }
        if "areas" in given:
            zones: ZonePlan = given["areas"]
            drawn = {"areas": zones.areas, "places": zones.places}
            options |= {name: one for name, one in drawn.items() if one}
        for name in ("unseen", "counts"):
            if given.get(name):
                options[name] = [one.strip() for one in given[name].split(",") if one.strip()]
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
