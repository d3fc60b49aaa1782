"""The input of each deed of the archive, for its page and for the API."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Q
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from archive import acceptance, actions
from archive.analysis_forms import AskAnalysis, NameSitting, Repeat
from archive.dictionaries import prepared
from archive.engine.descriptor import parse_descriptor
from archive.exports.licences import LICENCES
from archive.extending_forms import POOL_COHORTS
from archive.in_view import EnterUses
from archive.intakes import convert_file, intake
from archive.mendings import mend, offered
from archive.models import Deposit, DepositFile, Dictionary, Version
from archive.places import check_limits
from archive.rounds import give_back, take_in
from archive.storage.quarantine import Kept
from archive.tasks import enqueue_check
from archive.terms import STEPS, makers_of
from archive.trial import try_out
from registry.choices import RowsField
from registry.errors import Refusal
from registry.guarded.sizes import size
from registry.people.models import Person
from registry.permissions import Verb
from registry.web import Deed, DeedForm, day_field, deeds, reason_field


class ManyFilesInput(forms.ClearableFileInput):
    """Lets several files be chosen at once."""

    allow_multiple_selected = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """Give every file of that name."""
        return files.getlist(name) if hasattr(files, "getlist") else files.get(name)


class ManyFilesField(forms.FileField):
    """One or more files, each cleaned as one."""

    widget = ManyFilesInput

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile[Any]]:
        """Give the files as a list."""
        given = data if isinstance(data, list | tuple) else [data]
        return [super(ManyFilesField, self).clean(one, initial) for one in given or [None]]


# ------------------------------------------------------------------------------------ dictionaries


class WriteDictionary(DeedForm):
    """The descriptor, as a file or as text, and what is new in it."""

    intro = _(
        "A dictionary is a Data Package descriptor (datapackage.json) with a schema for each table."
        " Say a column’s unit in x:unit (UCUM), what it is for in x:role, codes of behaviour in"
        " x:ethogram, and a likely range, with its reason, in x:plausible. Each column gets a"
        " permanent x:fieldId; keep it when you rename a column. Where observers are to pass a test"
        " first, say so in x:gate, as {“same”: 0.85, “kappa”: 0.8, “days”: 365}."
    )

    file = forms.FileField(label=_("Descriptor as a file"), required=False)
    descriptor = forms.CharField(
        label=_("Descriptor as text"),
        help_text=_("Leave it empty if you give a file."),
        required=False,
        max_length=1_000_000,
        widget=forms.Textarea(attrs={"rows": 14, "spellcheck": "false"}),
    )
    notes = forms.CharField(
        label=_("What is new, and why"),
        required=False,
        max_length=8000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def clean(self) -> dict[str, Any]:
        """Read the one descriptor that was given."""
        given: dict[str, Any] = super().clean() or {}
        file, text = given.pop("file", None), given.get("descriptor", "").strip()
        if bool(file) == bool(text):
            self.add_error("descriptor", _("Give the descriptor once: as a file, or as text."))
            return given
        most = check_limits().descriptor_bytes
        if file and file.size > most:
            self.add_error(
                "file",
                _("It is %(size)s; the limit is %(most)s.")
                % {"size": size(file.size), "most": size(most)},
            )
            return given
        where = "file" if file else "descriptor"
        try:
            text = file.read().decode("utf-8-sig") if file else text
        except UnicodeDecodeError:
            self.add_error(where, _("It is not UTF-8."))
            return given
        given["descriptor"], faults = parse_descriptor(text, "The descriptor")
        for fault in faults:
            self.add_error(where, fault.message)
        return given

    def act(self) -> Dictionary:
        """Try it out on blank sheets, and publish it."""
        given = self.cleaned_data["descriptor"]
        earlier = list(self.subject.dictionaries.order_by("number"))
        try_out(prepared(given, [one.descriptor for one in earlier], len(earlier) + 1))
        return actions.publish_dictionary(
            self.subject, descriptor=given, notes=self.cleaned_data["notes"], by=self.by
        )


# ---------------------------------------------------------------------------------------- deposits


class OpenDeposit(DeedForm):
    """By which dictionary it is checked, and a note."""

    dictionary = forms.ModelChoiceField(
        Dictionary.objects.none(),
        label=_("Dictionary"),
        required=False,
        empty_label=_("none: the package’s own descriptor"),
        help_text=_("The newest one, unless the data were taken down by an older one."),
    )
    note = forms.CharField(
        label=_("A note to whoever accepts"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def fit(self) -> None:
        """Offer the study's dictionaries, the newest first."""
        field: Any = self.fields["dictionary"]
        field.queryset = self.subject.study.dictionaries.order_by("-number")
        self.initial.setdefault("dictionary", field.queryset.first())

    def act(self) -> Deposit:
        """Open it."""
        return actions.open_deposit(self.subject, **self.cleaned_data, by=self.by)


class AddFile(DeedForm):
    """The files."""

    files = ManyFilesField(  # type: ignore[assignment]  # why: the form keeps its fields apart
        label=_("Files"),
        help_text=_(
            "A zip of the whole package, a bag or a crate too, or its files; several can be chosen"
            " at once; all are added, or none. A file of a name that is here already takes its"
            " place."
        ),
    )

    def act(self) -> Deposit:
        """Stream the files to quarantine, then say that they are there: all of them or none."""
        subject: Deposit = self.subject
        sent = self.cleaned_data["files"]
        kept: list[Kept] = []
        try:
            for file in sent:
                kept.append(take_in(subject, file.name, file))  # noqa: PERF401  # why: a refusal needs those before it
            actions.add_files(subject, kept=kept, by=self.by)
        except Refusal as refused:
            give_back(kept)
            if len(sent) > 1:
                refused.next += " " + _("None of the %(count)s files that you sent was added.") % {
                    "count": len(sent)
                }
            raise
        return subject


class DropFile(DeedForm):
    """Which file."""

    file = forms.ModelChoiceField(
        DepositFile.objects.none(), label=_("File"), help_text=_("Its bytes are kept all the same.")
    )

    def fit(self) -> None:
        """Offer the live files."""
        field: Any = self.fields["file"]
        field.queryset = self.subject.files.filter(is_dropped=False)

    def act(self) -> Deposit:
        """Drop it."""
        return actions.drop_file(self.subject, **self.cleaned_data, by=self.by)


class Convert(DeedForm):
    """Which file, what it is to become, and the choices that were confirmed."""

    intro = _(
        "Each file is proposed to be read in a certain way, with the reason; you look at the"
        " preview, choose otherwise where that is wrong, and confirm. The original is kept."
    )

    file = forms.ModelChoiceField(DepositFile.objects.none(), label=_("File"))
    table = forms.CharField(
        label=_("Table of the dictionary"),
        required=False,
        max_length=200,
        help_text=_("Empty for the one that is named like the file."),
    )
    same = forms.BooleanField(label=_("Same as last time"), required=False)
    answers = forms.JSONField(
        label=_("Choices"),
        required=False,
        help_text=_("An object: what the proposal calls each decision, and what you choose."),
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
    )
    mark = forms.CharField(
        label=_("Mark of the proposal"),
        required=False,
        max_length=16,
        help_text=_("As the proposal gives it: what was read otherwise since is refused."),
    )

    def fit(self) -> None:
        """Offer the live files, and those that were converted here before."""
        field: Any = self.fields["file"]
        here = Q(is_dropped=False) | Q(recipes__isnull=False)
        field.queryset = self.subject.files.filter(here).distinct()

    def clean_answers(self) -> dict[str, str]:
        """Give the choices as texts."""
        given = self.cleaned_data["answers"]
        if not given:
            return {}
        if not isinstance(given, dict) or not all(isinstance(one, str) for one in given.values()):
            raise forms.ValidationError(_("Give an object whose values are texts."))
        return given

    def act(self) -> Deposit:
        """Look at the file once more by these choices, and make the table."""
        given = self.cleaned_data
        found = intake(
            self.subject,
            given["file"],
            table=given["table"],
            is_same=given["same"],
            answers=given["answers"],
        )
        deposit: Deposit = self.subject
        convert_file(deposit, found, answers=given["answers"], mark=given["mark"], by=self.by)
        return deposit


class Submit(DeedForm):
    """Nothing to fill in."""

    def act(self) -> Deposit:
        """Submit it, and queue its check."""
        deposit = actions.submit_deposit(self.subject, by=self.by)
        enqueue_check(deposit)
        return deposit


class Correct(DeedForm):
    """Nothing to fill in."""

    def act(self) -> Deposit:
        """Open it again with all its files."""
        return actions.correct_deposit(self.subject, by=self.by)


class Mend(DeedForm):
    """Which of the safe corrections of the report are made."""

    intro = _(
        "A corrected draft takes the place of the file in this deposit. The file that you sent is"
        " kept beside it, byte for byte. Nothing is submitted by itself: look at the draft, then"
        " have it checked again."
    )

    corrections = forms.MultipleChoiceField(
        label=_("Corrections"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("By their number in the report. Each is made in the whole table."),
    )

    def fit(self) -> None:
        """Offer what the newest check suspects and a correction could mend."""
        field: Any = self.fields["corrections"]
        field.choices = [(str(one["number"]), one["what"]) for one in offered(self.subject)]
        asked = self.initial.get("corrections")
        if isinstance(asked, str):
            self.initial["corrections"] = asked.split(",")

    def act(self) -> Deposit:
        """Make the drafts."""
        return mend(self.subject, map(int, self.cleaned_data["corrections"]), by=self.by)


class Discard(DeedForm):
    """Why it is discarded."""

    reason = reason_field(_("Why it is discarded"))

    def act(self) -> Deposit:
        """Discard it."""
        return actions.discard_deposit(self.subject, **self.cleaned_data, by=self.by)


class Accept(DeedForm):
    """Licence, access and who made the data."""

    licence = forms.ChoiceField(
        choices=[(one.id, f"{one.title}. {one.asks}") for one in LICENCES.values()],
        label=_("Licence"),
        initial="CC-BY-4.0",
    )
    access = forms.ChoiceField(
        choices=Version.Access.choices, label=_("Who may read it"), widget=forms.RadioSelect
    )
    embargoed_until = day_field(
        _("Embargo until"),
        format_lazy(_("Up to {months} months from today."), months=settings.EMBARGO_CAP_MONTHS),
        required=False,
    )
    restricted_because = forms.CharField(
        label=_("Why it is restricted"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    step = forms.ChoiceField(
        choices=STEPS,
        label=_("Against the last version it is"),
        required=False,
        help_text=_(
            "A first version is 1.0.0; one by another dictionary is a major step by itself."
        ),
    )
    makers = RowsField(
        Person.objects.none(),
        label=_("Named as its makers"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("The students and the supervisors, unless you choose."),
    )

    def fit(self) -> None:
        """Offer the people of the project; ask for the step only where there is a version."""
        project = self.subject.dataset.project
        field: Any = self.fields["makers"]
        field.queryset = Person.objects.filter(pk__in=[one.pk for one in makers_of(project)])
        if not self.subject.dataset.versions.exists():
            del self.fields["step"]

    def act(self) -> Version:
        """Publish the bytes, then accept it."""
        given = dict(self.cleaned_data)
        given["step"] = given.get("step") or "patch"
        return acceptance.accept(self.subject, **given, by=self.by)


# ---------------------------------------------------------------------------------------- versions


class Withdraw(DeedForm):
    """On which ground, why, and what replaces it."""

    ground = forms.ChoiceField(
        choices=Version.Ground.choices, label=_("Ground"), help_text=_("Everyone reads this.")
    )
    reason = reason_field(_("Why it is withdrawn"), _("It stays inside; the ground is public."))
    replaced_by = forms.ModelChoiceField(
        Version.objects.none(), label=_("Use instead"), required=False, empty_label=_("none")
    )

    def fit(self) -> None:
        """Offer the other held versions of the dataset."""
        field: Any = self.fields["replaced_by"]
        others = Version.objects.held().filter(dataset=self.subject.dataset_id)
        field.queryset = others.exclude(pk=self.subject.pk)

    def act(self) -> Version:
        """Withdraw it."""
        return actions.withdraw_version(self.subject, **self.cleaned_data, by=self.by)


class Register(DeedForm):
    """The identifier."""

    intro = _(
        "Where an agency registered a DOI or a Handle that leads to this version’s page, every"
        " record of it names that too. The site’s own identifier stays; neither is ever changed."
    )

    identifier = forms.CharField(
        label=_("DOI or Handle"),
        max_length=190,
        help_text=_("As 10.…/…, hdl:…/…, or as its whole address."),
    )

    def act(self) -> Version:
        """Add it."""
        return actions.register_version(self.subject, **self.cleaned_data, by=self.by)


class Erase(DeedForm):
    """Why it is erased."""

    caution = _(
        "After the second assent every byte of this version is gone for good, the files that were"
        " received included. Its tombstone stays."
    )

    reason = reason_field(_("Why it is erased"))

    def act(self) -> Version:
        """Assent to it; the second assent erases."""
        return acceptance.erase(self.subject, **self.cleaned_data, by=self.by)


STUDY_DEEDS = deeds(
    Deed(
        Verb.STUDY_WRITE_DICTIONARY,
        WriteDictionary,
        _("Publish a dictionary"),
        _("What does each column mean?"),
    ),
    POOL_COHORTS,
)
PROJECT_DEEDS = deeds(
    Deed(Verb.PROJECT_DEPOSIT, OpenDeposit, _("Deposit data"), _("Deposit data of this project")),
    Deed(
        Verb.PROJECT_ENTER_USES,
        EnterUses,
        _("Enter uses from data"),
        _("Which animals do the data show?"),
    ),
)
DEPOSIT_DEEDS = deeds(
    Deed(Verb.DEPOSIT_SUBMIT, Submit, _("Submit for checking"), _("Have it checked")),
    Deed(Verb.DEPOSIT_ACCEPT, Accept, _("Accept"), _("Make it a version that lasts")),
    Deed(
        Verb.DEPOSIT_CORRECT,
        Correct,
        _("Correct it"),
        _("Correct this deposit"),
        _(
            "It opens again with all its files, in a new round. What was checked is kept beside it;"
            " a check that is still at work is called off."
        ),
    ),
    Deed(
        Verb.DEPOSIT_MEND,
        Mend,
        _("Make the corrected draft"),
        _("What would change?"),
        _("The first cells are shown as they are and as they would be."),
    ),
    Deed(Verb.DEPOSIT_ADD_FILE, AddFile, _("Add files"), _("Which files belong to it?")),
    Deed(Verb.DEPOSIT_DROP_FILE, DropFile, _("Drop a file"), _("Drop a file from it")),
    Deed(Verb.DEPOSIT_CONVERT, Convert, _("Convert a file"), _("Make a plain table of a file")),
    Deed(Verb.DEPOSIT_DISCARD, Discard, _("Discard"), _("Discard this deposit")),
)
VERSION_DEEDS = deeds(
    Deed(
        Verb.VERSION_ANALYSE,
        AskAnalysis,
        _("Analyse"),
        _("What do the data say?"),
        _("The program proposes a test and says why; a person decides what to make of it."),
    ),
    Deed(Verb.VERSION_WITHDRAW, Withdraw, _("Withdraw"), _("Withdraw this version")),
    Deed(Verb.VERSION_REGISTER, Register, _("Add a DOI or Handle"), _("Add a DOI or a Handle")),
    Deed(Verb.VERSION_ERASE, Erase, _("Erase"), _("Erase this version")),
)
ANALYSIS_DEEDS = deeds(
    Deed(
        Verb.ANALYSIS_REPEAT,
        Repeat,
        _("Run it again"),
        _("Does it give the same numbers?"),
    ),
    Deed(
        Verb.ANALYSIS_NAME_SITTING,
        NameSitting,
        _("Record whose test it was"),
        _("Whose test was it?"),
    ),
)
