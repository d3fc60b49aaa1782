"""The input of the deeds that pool cohorts: mappings between dictionaries, pooled tables."""

from typing import Any

from django import forms
from django.db.models import BooleanField, ExpressionWrapper, Q, QuerySet
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from archive import actions, shown
from archive.dictionaries import table_of, tables_of
from archive.extending.changes import Change
from archive.extending.fitting import in_need, suggested
from archive.extending.lines import FORMS, read, written
from archive.extending.tables import table_changes
from archive.models import Deposit, Dictionary, DictionaryMapping, PooledTable, Version
from archive.pooling import newest_of_each, take_in_table
from archive.rounds import give_back
from archive.ways import Ways
from registry.choices import RowField, RowsField
from registry.errors import Refusal, Unsound
from registry.permissions import Verb, allowed
from registry.projects.models import Project
from registry.web import Deed, DeedForm, deeds, number_of, reason_field


class ProposeMapping(DeedForm):
    """From which dictionary and table, to which table, and by which rules."""

    intro = _(
        "Old values are never changed. The rules say how they are read where cohorts are pooled,"
        " and they are kept with whatever they made. Somebody else reviews them: a person who knows"
        " how the data were taken."
    )

    old = RowField(Dictionary.objects.none(), label=_("From"))
    old_table = forms.CharField(label=_("Its table"), max_length=200)
    table = forms.CharField(
        label=_("Table here"), max_length=200, help_text=_("As this dictionary names it.")
    )
    rules = forms.CharField(
        label=_("Rules"),
        max_length=50_000,
        help_text=_("One in a line, in their order. Each sees what the ones before left."),
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
    )
    reason = reason_field(_("Why they hold"), _("Say how you know; the reviewer asks just that."))

    def fit(self) -> None:
        """Offer the other dictionaries, this study's first; suggest rules once two are chosen."""
        field: Any = self.fields["old"]
        others = Dictionary.objects.exclude(pk=self.subject.pk).select_related("study")
        is_own = ExpressionWrapper(Q(study=self.subject.study_id), BooleanField())
        field.queryset = others.order_by(is_own.desc(), "study__title", "-number")
        self.initial.setdefault("old", self._before())
        tables = tables_of(self.subject.descriptor)
        if tables:
            self.initial.setdefault("table", str(tables[0]["name"]))
            self.initial.setdefault("old_table", self.initial["table"])
        if self.pair is not None and not self.is_bound:
            self.initial.setdefault("rules", written(suggested(*self.pair)))

    def _before(self) -> int | None:
        earlier = self.subject.study.dictionaries.filter(number__lt=self.subject.number)
        found: int | None = earlier.order_by("-number").values_list("pk", flat=True).first()
        return found

    @cached_property
    def pair(self) -> tuple[dict[str, Any], dict[str, Any]] | None:
        """The two tables, as the form was asked or as it was sent; None where there is none."""
        said = self.data if self.is_bound else self.initial
        old = Dictionary.objects.filter(pk=number_of(str(said.get("old") or "")) or 0).first()
        here = table_of(self.subject.descriptor, str(said.get("table") or ""))
        there = table_of(old.descriptor, str(said.get("old_table") or "")) if old else None
        return (there, here) if there is not None and here is not None else None

    @property
    def examples(self) -> tuple[str, ...]:
        """An example of each kind of rule."""
        return FORMS

    @property
    def differs(self) -> list[Change]:
        """What differs between the two tables, what needs a rule first."""
        if self.pair is None:
            return []
        needs = in_need(*self.pair)
        return [*needs, *(one for one in table_changes(*self.pair) if one not in needs)]

    @property
    def columns(self) -> list[tuple[str, list[shown.Field]]]:
        """The columns of both tables: what can be named in a rule."""
        heads = (_("The older table"), _("The table here"))
        tables = shown.tables({"resources": list(self.pair or ())})
        return [(str(head), list(table.fields)) for head, table in zip(heads, tables, strict=False)]

    def clean_rules(self) -> Any:
        """Read the rules."""
        try:
            return read(self.cleaned_data["rules"])
        except Unsound as refused:
            raise forms.ValidationError(refused.why) from None

    def act(self) -> DictionaryMapping:
        """Propose them."""
        return actions.propose_mapping(self.subject, **self.cleaned_data, by=self.by)


class AcceptMapping(DeedForm):
    """Nothing to fill in."""

    caution = _(
        "From now on rows are read by these rules in every pooled table of the two dictionaries."
        " Accept them only if you know how the older data were taken."
    )

    def act(self) -> DictionaryMapping:
        """Accept it."""
        return actions.accept_mapping(self.subject, by=self.by)


class DeclineMapping(DeedForm):
    """Why it is declined."""

    reason = reason_field(_("Why the rules do not hold"), _("Whoever proposed them reads it."))

    def act(self) -> DictionaryMapping:
        """Decline it."""
        return actions.decline_mapping(self.subject, **self.cleaned_data, by=self.by)


class WithdrawMapping(DeedForm):
    """Why it is withdrawn."""

    reason = reason_field(_("Why it is withdrawn"))

    def act(self) -> DictionaryMapping:
        """Withdraw it."""
        return actions.withdraw_mapping(self.subject, **self.cleaned_data, by=self.by)


class PoolCohorts(DeedForm):
    """Which table, and which versions."""

    intro = _(
        "Rows are read out of the versions whenever the table is looked at, behind the same checks"
        " as these. Offered are the newest versions that you may read: this study’s, and those of"
        " other studies from which a reviewed mapping leads here."
    )

    table = forms.ChoiceField(label=_("Table"))
    sources = RowsField(
        Version.objects.none(), label=_("Versions"), widget=forms.CheckboxSelectMultiple
    )
    title = forms.CharField(
        label=_("Title"),
        max_length=200,
        required=False,
        help_text=_("Made of the study’s, if empty."),
    )

    def fit(self) -> None:
        """Offer the tables of the study's dictionaries, and the versions that lead to them."""
        dictionaries = list(self.subject.dictionaries.order_by("-number"))
        names = dict.fromkeys(
            str(table["name"]) for one in dictionaries for table in tables_of(one.descriptor)
        )
        field: Any = self.fields["table"]
        field.choices = [(name, name) for name in names]
        versions = self._offered(dictionaries, list(names))
        rows: Any = self.fields["sources"]
        rows.queryset = versions
        self.initial.setdefault("sources", list(versions.values_list("pk", flat=True)))

    def _offered(self, dictionaries: list[Dictionary], tables: list[str]) -> QuerySet[Version]:
        """Give the newest readable version of each dataset that leads to the study's tables."""
        ways = Ways.now()
        known = {one.pk for one in dictionaries}
        for one in dictionaries:
            known |= {pk for table in tables for pk, _name in ways.leads_to(one.pk, table)}
        held = allowed(Version.objects.held(), self.by, Verb.VERSION_READ)
        held = held.filter(dictionary__in=known, deposit__pool=None, is_published=True)
        rows = newest_of_each(held).select_related("dataset")
        return rows.order_by("dataset__title", "pk")

    def act(self) -> PooledTable:
        """Pool them."""
        return actions.pool_cohorts(self.subject, **self.cleaned_data, by=self.by)


class DepositPool(DeedForm):
    """For which project, and a note."""

    intro = _(
        "The table is written as it stands now and becomes a deposit: checked, accepted by somebody"
        " else, with an identifier of its own. Its sources and the rules by which they were read"
        " are recorded in it; it is never more open than they are."
    )

    project = RowField(Project.objects.none(), label=_("For which project"))
    note = forms.CharField(
        label=_("A note to whoever accepts"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def fit(self) -> None:
        """Offer the projects of the study for which one may deposit."""
        field: Any = self.fields["project"]
        own = allowed(self.subject.study.projects.all(), self.by, Verb.PROJECT_DEPOSIT)
        open_states = Project.lifecycle.states_before("deposit")
        field.queryset = own.filter(state__in=open_states).order_by("-starts_on", "-pk")
        self.initial.setdefault("project", field.queryset.first())

    def act(self) -> Deposit:
        """Write the table to quarantine, then say that it is there, and have it checked."""
        kept = take_in_table(self.subject)
        try:
            deposit = actions.deposit_pool(self.subject, **self.cleaned_data, kept=kept, by=self.by)
        except Refusal:
            give_back(kept)
            raise
        return deposit


class WithdrawPool(DeedForm):
    """Why it is withdrawn."""

    caution = _(
        "Nobody reads it any more, and its page says why. A version that was made of it by a"
        " deposit is no part of this: where it is wrong too, withdraw it on its own page."
    )

    reason = reason_field(_("Why it is withdrawn"))

    def act(self) -> PooledTable:
        """Withdraw it."""
        return actions.withdraw_pool(self.subject, **self.cleaned_data, by=self.by)


POOL_DEEDS = deeds(
    Deed(Verb.POOL_DEPOSIT, DepositPool, _("Deposit it"), _("Keep this table as it stands")),
    Deed(Verb.POOL_WITHDRAW, WithdrawPool, _("Withdraw"), _("Withdraw this pooled table")),
)
POOL_COHORTS = Deed(
    Verb.STUDY_POOL, PoolCohorts, _("Pool the cohorts"), _("Which cohorts stand in one table?")
)
DICTIONARY_DEEDS = deeds(
    Deed(
        Verb.DICTIONARY_PROPOSE_MAPPING,
        ProposeMapping,
        _("Propose a mapping"),
        _("How do old values read here?"),
    )
)
MAPPING_DEEDS = deeds(
    Deed(Verb.MAPPING_ACCEPT, AcceptMapping, _("Accept"), _("Do these rules hold?")),
    Deed(Verb.MAPPING_DECLINE, DeclineMapping, _("Decline"), _("Decline this mapping")),
    Deed(Verb.MAPPING_WITHDRAW, WithdrawMapping, _("Withdraw"), _("Withdraw this mapping")),
)
