"""The input of the deeds that undo what was brought in by mistake."""

from django.utils.translation import gettext_lazy as _

from registry.animals import actions
from registry.animals.models import Animal, Group, Intake
from registry.web import DeedForm, reason_field

_WHAT = _("What was wrong")


class UndoAnimal(DeedForm):
    """Why it was never here."""

    intro = _(
        "Only where it was recorded by mistake. It leaves every list and count, its code and its"
        " chips are free for another, and the page stays. One that was here and left has departed"
        " or died."
    )
    reason = reason_field(_WHAT)

    def act(self) -> Animal:
        """Undo its arrival."""
        return actions.undo_animal(self.subject, **self.cleaned_data, by=self.by)


class UndoGroup(DeedForm):
    """Why they were never here."""

    intro = _(
        "Only where it was recorded by mistake. The group leaves every list and count, its code is"
        " free for another, and the page stays. Those that were here and left have departed or"
        " died."
    )
    reason = reason_field(_WHAT)

    def act(self) -> Group:
        """Undo their arrival."""
        return actions.undo_group(self.subject, **self.cleaned_data, by=self.by)


class UndoIntake(DeedForm):
    """Why the list should not have been brought in."""

    intro = _(
        "All its animals and groups are undone together, or none: where more is recorded of one"
        " than that it came, nothing is done. Kinds and enclosures that came with the list stay."
    )
    reason = reason_field(_WHAT)

    def act(self) -> Intake:
        """Undo the list."""
        return actions.undo_intake(self.subject, **self.cleaned_data, by=self.by)
