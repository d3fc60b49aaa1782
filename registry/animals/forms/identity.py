"""The input of each deed on how animals are told apart."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.forms.fields import LOCAL_CODES, note
from registry.animals.models import Animal, Confidence, Mark, Photograph, Side
from registry.animals.pictures import keeping, limits
from registry.animals.pictures.keeping import Picture
from registry.choices import RowField
from registry.errors import Refusal
from registry.permissions import Verb
from registry.saying import number_said
from registry.web import Deed, DeedForm, day_field, deeds, reason_field


class MarkAnimal(DeedForm):
    """A chip, a tag, a natural mark, another name."""

    caution = format_lazy(
        "{} {}",
        _(
            "To read a chip or look at a mark is husbandry. To put in a chip or a tag, to notch "
            "or to clip harms the animal: only a trained person does it, with the veterinary "
            "surgeon's word. Done for a study, it may need a licence."
        ),
        LOCAL_CODES,
    )
    sort = forms.ChoiceField(choices=Mark.Sort, label=_("Kind"), widget=forms.RadioSelect)
    said = forms.CharField(
        label=_("Code or description"),
        max_length=200,
        help_text=_("The fifteen digits of a chip as the reader shows them, or where the mark is."),
    )
    side = forms.ChoiceField(
        choices=[("", _("not of a side")), *Side.choices], label=_("Where"), required=False
    )
    confidence = forms.ChoiceField(
        choices=Confidence,
        label=_("How sure are you?"),
        initial=Confidence.SURE,
        required=False,
    )
    seen_on = day_field(_("Seen or put in on"), is_today=True, required=False)

    def act(self) -> Animal:
        """Record it."""
        actions.mark_animal(self.subject, **_given(self.cleaned_data), by=self.by)
        animal: Animal = self.subject
        return animal


def _given(cleaned: dict[str, Any]) -> dict[str, Any]:
    """Leave out what was not given, so that the deed's own defaults hold."""
    return {name: said for name, said in cleaned.items() if said not in {None, ""}}


class ReplaceMark(DeedForm):
    """What it looks like now, or the code that took its place."""

    intro = _(
        "Spots of young animals change, tags are renewed. The newer mark takes the place of this "
        "one, which stays readable with its photographs and its days."
    )
    said = forms.CharField(label=_("Code or description now"), max_length=200)
    side = forms.ChoiceField(
        choices=[("", _("not of a side")), *Side.choices], label=_("Where"), required=False
    )
    confidence = forms.ChoiceField(
        choices=Confidence, label=_("How sure are you?"), initial=Confidence.SURE
    )
    seen_on = day_field(_("Seen or put in on"), is_today=True)
    reason = reason_field(_("Why the one before no longer serves"))

    def act(self) -> Mark:
        """Replace it."""
        return actions.replace_mark(self.subject, **self.cleaned_data, by=self.by)


class EndMark(DeedForm):
    """From which day it is no more, and why."""

    ended_on = day_field(_("Gone since"), is_today=True)
    reason = reason_field(_("Why"), _("Lost, healed, taken out, or wrongly entered."))

    def act(self) -> Mark:
        """End it."""
        return actions.end_mark(self.subject, **self.cleaned_data, by=self.by)


class PhotographMark(DeedForm):
    """The photograph, from which side, by whom and when."""

    keeps_no_draft = True
    caution = _(
        "Photograph from outside the tank, without flash, and do not lift or corner an animal for "
        "it. A photograph that needs more than that is handling: it asks for leave like any other."
    )
    file = forms.FileField(
        label=_("Photograph"),
        # On a telephone this offers the camera beside the pictures that are there.
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text=format_lazy(
            _(
                "JPEG, PNG or WebP, up to {megabytes} MB. It is drawn anew: where and with what it "
                "was taken does not stay in it."
            ),
            megabytes=number_said(limits.MOST_BYTES // 1_000_000),
        ),
    )
    side = forms.ChoiceField(choices=Side, label=_("From which side"))
    said = forms.CharField(
        label=_("What it shows"),
        max_length=200,
        help_text=_("In a few words, for those who cannot see it."),
    )
    taken_on = day_field(_("Taken on"), is_today=True)
    taken_by = forms.CharField(
        label=_("Taken by"), max_length=120, required=False, help_text=_("Empty: by you.")
    )

    picture: Picture

    def fit(self) -> None:
        """Begin with what is known of the mark."""
        self.fields["side"].initial = self.subject.side or Side.WHOLE
        self.fields["said"].initial = self.subject.said

    def clean(self) -> dict[str, Any]:
        """Keep the picture, or tell under its field why not."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors:
            try:
                self.picture = keeping.keep(cleaned.pop("file"))
            except Refusal as refused:
                self.add_error("file", refused.fields.get("file", refused.why))
        return cleaned

    def act(self) -> Photograph:
        """Add it."""
        return actions.photograph_mark(
            self.subject, picture=self.picture, **self.cleaned_data, by=self.by
        )


class ReadMark(DeedForm):
    """Which animal the mark shows, before one looks it up."""

    intro = _(
        "Look at the mark and say which animal it is, before you look it up. What you say is kept "
        "as it is, right or wrong: it shows how well the animals can be told apart."
    )
    answer = RowField(
        Animal.objects.none(),
        label=_("Which animal is it?"),
        required=False,
        empty_label=_("I cannot tell"),
    )
    confidence = forms.ChoiceField(
        choices=Confidence,
        label=_("How sure are you?"),
        initial=Confidence.SURE,
        widget=forms.RadioSelect,
    )
    note = note(_("What you went by"))

    def fit(self) -> None:
        """Offer every animal of that taxon that lives here, in no telling order."""
        field: Any = self.fields["answer"]
        taxon = self.subject.animal.taxon_id
        field.queryset = Animal.objects.filter(taxon=taxon, state="kept").order_by("name", "code")

    def act(self) -> Mark:
        """Record it."""
        actions.read_mark(self.subject, **self.cleaned_data, by=self.by)
        mark: Mark = self.subject
        return mark


class WithdrawPhotograph(DeedForm):
    """Why it is not to be shown."""

    reason = reason_field(_("Why"), _("It shows another animal, a person, or nothing."))

    def act(self) -> Photograph:
        """Withdraw it."""
        return actions.withdraw_photograph(self.subject, **self.cleaned_data, by=self.by)


MARK_DEEDS = deeds(
    Deed(Verb.MARK_READ, ReadMark, _("Read it as second reader"), _("Which animal is this?")),
    Deed(
        Verb.MARK_PHOTOGRAPH,
        PhotographMark,
        _("Add a photograph"),
        _("What does it look like?"),
    ),
    Deed(Verb.MARK_REPLACE, ReplaceMark, _("Replace it"), _("What took its place?")),
    Deed(Verb.MARK_END, EndMark, _("It is no more"), _("Is the mark gone?")),
)
PHOTOGRAPH_DEEDS = deeds(
    Deed(
        Verb.PHOTOGRAPH_WITHDRAW,
        WithdrawPhotograph,
        _("Withdraw it"),
        _("Should it not be shown?"),
    ),
)
