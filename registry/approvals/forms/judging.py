"""The input of what a named person decides of one animal: its stage, and its use again."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, EggCase, Group
from registry.approvals import actions
from registry.choices import RowField
from registry.projects.forms import choose
from registry.projects.models import Arm, Project
from registry.web import DeedForm, day_field, reason_field


def planned_taxa(projects: Any) -> QuerySet[Arm, Any]:
    """Give the taxa that projects plan to work with."""
    return Arm.objects.filter(plan__project__in=projects, is_dropped=False).values("taxon")


class _OfOne(DeedForm):
    """An animal or a group of the taxa that the plan names."""

    animal = RowField(Animal.objects.none(), label=_("Animal"), required=False)
    group = RowField(Group.objects.none(), label=_("Group"), required=False)
    field_order = ("animal", "group", "case")

    def fit(self) -> None:
        """Offer what is kept of the planned taxa."""
        taxa = planned_taxa([self.subject])
        for name, model in (("animal", Animal), ("group", Group)):
            kept = model._default_manager.filter(state="kept", taxon__in=taxa)
            choose(self, name, kept.select_related("taxon"))


class DecideStage(_OfOne):
    """Of which animal, whether it is protected, and for which days."""

    intro = _(
        "What the register does not know is treated as protected. Where you know better of one "
        "animal, one group or one egg case, say so here; it holds for this project."
    )
    caution = _(
        "You decide this under your name, and the rule's own answer stays beside it. Where you "
        "are not sure, leave the animal protected."
    )

    case = RowField(EggCase.objects.none(), label=_("Egg case"), required=False)
    is_protected = forms.TypedChoiceField(
        choices=[("", _("Choose one")), ("yes", _("protected")), ("no", _("not protected"))],
        coerce=lambda said: said == "yes",
        label=_("It is"),
    )
    from_on = day_field(_("From"), is_today=True)
    until_on = day_field(
        _("Until"), _("Its last day; needed where it is not protected."), required=False
    )
    reason = reason_field(_("What you go by"), _("What you saw, and when."))

    def fit(self) -> None:
        """Offer the egg cases too."""
        super().fit()
        held = EggCase.objects.filter(state="held", taxon__in=planned_taxa([self.subject]))
        choose(self, "case", held.select_related("taxon"))

    def act(self) -> Project:
        """Write it down."""
        actions.decide_stage(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project


class DecideReuse(_OfOne):
    """Of which animal, whether it recovered, and whether this is a step more of the same."""

    intro = _(
        "Read the animal's lifetime experience first: each page of an animal leads to it. The law "
        "asks for a veterinary surgeon's advice before an animal is used again."
    )
    caution = _(
        "This records your advice; the authority's consent stands on the licence. An animal that "
        "went through a severe procedure must be examined, and named in the consent."
    )

    is_continued = forms.BooleanField(
        label=_("Continued use: it is needed because of its earlier steps"), required=False
    )
    has_recovered = forms.BooleanField(
        label=_("It has fully recovered its health and well-being"), required=False
    )
    was_examined = forms.BooleanField(label=_("I examined this very animal"), required=False)
    reason = reason_field(_("What you go by"))

    def act(self) -> Project:
        """Write it down."""
        actions.decide_reuse(self.subject, **self.cleaned_data, by=self.by)
        project: Project = self.subject
        return project
