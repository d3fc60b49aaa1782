"""The input of deeds on what happens to animals and groups that live here."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.actions.counts import CHANGES
from registry.animals.forms.fields import (
    LOCAL_CODES,
    Counted,
    cause_field,
    code_field,
    enclosure_field,
    note,
    number_field,
    sex_field,
    today,
)
from registry.animals.models import Animal, EggCase, Enclosure, Event, Group, LifeStage, Sex
from registry.choices import RowField
from registry.people.models import Institution
from registry.web import DeedForm, day_field, reason_field


class Move(DeedForm):
    """Where to, and when."""

    enclosure = enclosure_field(_("To"))
    happened_on = today(_("On"))
    note = note(_("Why"))

    def fit(self) -> None:
        """Offer every enclosure but its own."""
        field: Any = self.fields["enclosure"]
        field.queryset = Enclosure.objects.exclude(pk=self.subject.enclosure_id)


class MoveAnimal(Move):
    """Where to, and when."""

    def act(self) -> Animal:
        """Move it."""
        return actions.move_animal(self.subject, **self.cleaned_data, by=self.by)


class MoveGroup(Move):
    """Where to, and when."""

    def act(self) -> Group:
        """Move it."""
        return actions.move_group(self.subject, **self.cleaned_data, by=self.by)


class Leave(DeedForm):
    """Whether it departed or died, and when."""

    caution = format_lazy(
        "{} {}",
        _(
            "Whether an animal is to be killed, and how, is for the veterinary surgeon to say and "
            "for a trained and licensed person to do. Ask before you move a body: it may have to "
            "be examined, and it may carry disease."
        ),
        LOCAL_CODES,
    )
    sort = forms.ChoiceField(
        choices=[(sort.value, sort.label) for sort in (Event.Sort.DEPARTED, Event.Sort.DIED)],
        label=_("What happened"),
        widget=forms.RadioSelect,
    )
    happened_on = today(_("On"))
    cause = cause_field()
    institution = forms.ModelChoiceField(
        Institution.objects.all(),
        label=_("Where to"),
        required=False,
        empty_label=_("not an institution of the register"),
        help_text=_("Only where it departed."),
    )
    note = note(_("What else is known"), _("The place or the cause, in your own words."))


class LeaveAnimal(Leave):
    """Whether the animal departed or died, and when."""

    vets_word = forms.CharField(
        label=_("A veterinary surgeon’s word"),
        max_length=500,
        required=False,
        help_text=_(
            "Only for one that departs late in a pregnancy or just after a birth: who allowed it,"
            " and why."
        ),
    )

    def act(self) -> Animal:
        """Record it."""
        return actions.leave_animal(self.subject, **self.cleaned_data, by=self.by)


class LeaveGroup(Leave):
    """Whether all that are left of it departed or died, and when."""

    def act(self) -> Group:
        """Record it."""
        return actions.leave_group(self.subject, **self.cleaned_data, by=self.by)


class CountGroup(Counted):
    """By how many each number changed; losses with a minus."""

    intro = _(
        "Give by how many each number changed, not how many there are. Two of unknown sex that "
        "were found to be a male and a female: 1, 1 and -2."
    )
    sort = forms.ChoiceField(
        choices=[(sort.value, sort.label) for sort in CHANGES],
        label=_("What happened"),
        initial=Event.Sort.DIED,
    )
    males = number_field(_("Males, change"), lowest=-10_000_000)
    females = number_field(_("Females, change"), lowest=-10_000_000)
    unknown = number_field(_("Of unknown sex, change"), lowest=-10_000_000)
    happened_on = today(_("On"))
    cause = cause_field()
    born_on = day_field(
        _("Born or hatched on"),
        _("Of those that died, where it is known: deaths within 30 days are counted apart."),
        required=False,
    )
    note = note()

    def act(self) -> Group:
        """Record it."""
        return actions.count_group(self.subject, **self.numbers(), by=self.by)


class RecountGroup(Counted):
    """How many were counted, of each sex."""

    intro = _(
        "Give how many there are. What differs from the record is kept as a correction of its own;"
        " births, deaths and departures that you know of are recorded as such instead."
    )
    males = number_field(_("Males"))
    females = number_field(_("Females"))
    unknown = number_field(_("Of unknown sex"))
    is_estimated = forms.BooleanField(label=_("It is an estimate"), required=False)
    happened_on = today(_("Counted on"))
    note = note()

    def fit(self) -> None:
        """Write what the record holds, to be changed where it differs."""
        for name in ("males", "females", "unknown"):
            self.fields[name].initial = getattr(self.subject, name)

    def act(self) -> Group:
        """Record it."""
        return actions.recount_group(self.subject, **self.numbers(), by=self.by)


class TakeBack(DeedForm):
    """Why what was last recorded was wrong; the verb on what it is says which deed."""

    reason = reason_field(_("What was wrong"), _("It stays readable, with what was taken back."))

    def act(self) -> Any:
        """Take it back."""
        deed = _TAKE_BACK[type(self.subject)]
        return deed(self.subject, **self.cleaned_data, by=self.by)


_TAKE_BACK: dict[Any, Any] = {
    Animal: actions.take_back_animal_event,
    Group: actions.take_back_group_event,
    EggCase: actions.take_back_case_event,
}


class SexAnimal(DeedForm):
    """Of which sex it was found to be, and how one knows."""

    sex = sex_field(_("Sex"))
    happened_on = today(_("Found on"))
    method = forms.CharField(
        label=_("How one knows"),
        max_length=200,
        required=False,
        help_text=_("Such as claspers seen, or a blood sample."),
    )
    note = note()

    def act(self) -> Animal:
        """Record it."""
        return actions.sex_animal(self.subject, **self.cleaned_data, by=self.by)


class Stage(DeedForm):
    """Which stage of life was reached, and when."""

    life_stage = forms.ChoiceField(choices=LifeStage, label=_("Life stage"))
    happened_on = today(_("Reached on"))
    note = note()

    def act(self) -> Any:
        """Record it."""
        return actions.record_stage(self.subject, **self.cleaned_data, by=self.by)


_MEASURED = [one for one in Event.Measure if one != Event.Measure.STAGE]


class MeasureAnimal(DeedForm):
    """What was measured, how, and when."""

    caution = format_lazy(
        "{} {}",
        _(
            "To lift an animal out for a measure alone strains it: measure when it is handled for"
            " its care, or from a picture. Done for a study, it may need a licence."
        ),
        LOCAL_CODES,
    )
    measure = forms.ChoiceField(
        choices=[(one.value, one.label) for one in _MEASURED], label=_("What was measured")
    )
    value = forms.FloatField(label=_("Value, in the unit named"), min_value=0, max_value=1e8)
    happened_on = today(_("On"))
    method = forms.CharField(label=_("How"), max_length=200, required=False)
    note = note()

    def act(self) -> Animal:
        """Record it."""
        return actions.measure_animal(self.subject, **self.cleaned_data, by=self.by)


def _groups_like(subject: Animal | Group) -> Any:
    """Give the groups of its taxon that live here."""
    found = Group.objects.filter(taxon=subject.taxon_id, state="kept")
    return found.exclude(pk=subject.pk) if isinstance(subject, Group) else found


class JoinGroup(DeedForm):
    """Which group it joins, and when."""

    intro = _(
        "Its own record ends here and stays readable; it is counted in the group from then on."
        " What bars it bars the group too."
    )
    group = RowField(Group.objects.all(), label=_("Group"))
    happened_on = today(_("On"))
    note = note()

    def fit(self) -> None:
        """Offer the groups of its taxon."""
        field: Any = self.fields["group"]
        field.queryset = _groups_like(self.subject)

    def act(self) -> Animal:
        """Record it."""
        return actions.join_group(self.subject, **self.cleaned_data, by=self.by)


class DrawAnimal(DeedForm):
    """Which of them is told apart from now on."""

    code = code_field(_("Its number in your records."))
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    counted_as = forms.ChoiceField(
        choices=[
            (Sex.UNKNOWN.value, _("of unknown sex")),
            (Sex.FEMALE.value, Sex.FEMALE.label),
            (Sex.MALE.value, Sex.MALE.label),
        ],
        label=_("Counted in the group as"),
    )
    sex = sex_field(_("Sex"))
    enclosure = RowField(
        Enclosure.objects.all(),
        label=_("Lives in"),
        required=False,
        empty_label=_("where the group lives"),
    )
    happened_on = today(_("On"))
    note = note()

    def act(self) -> Animal:
        """Draw it."""
        return actions.draw_animal(self.subject, **self.cleaned_data, by=self.by)


class SplitGroup(Counted):
    """How many go into a new group, and where it lives."""

    code = code_field(_("The number of the new group in your records."))
    name = forms.CharField(label=_("Name of the new group"), max_length=80)
    males = number_field(_("Males that go"))
    females = number_field(_("Females that go"))
    unknown = number_field(_("Of unknown sex that go"))
    enclosure = enclosure_field(_("The new group lives in"))
    happened_on = today(_("On"))
    note = note()

    def act(self) -> Group:
        """Split it."""
        return actions.split_group(self.subject, **self.numbers(), by=self.by)


class MergeGroup(DeedForm):
    """Into which group all of it goes, and when."""

    intro = _("Its own record ends here and stays readable. What bars it bars the other too.")
    into = RowField(Group.objects.all(), label=_("Into"))
    happened_on = today(_("On"))
    note = note()

    def fit(self) -> None:
        """Offer the other groups of its taxon."""
        field: Any = self.fields["into"]
        field.queryset = _groups_like(self.subject)

    def act(self) -> Group:
        """Merge them."""
        return actions.merge_group(self.subject, **self.cleaned_data, by=self.by)
