"""The input of deeds on holds."""

from django.utils.translation import gettext_lazy as _

from registry.oversight.actions import holds as actions
from registry.oversight.forms.words import text_field
from registry.oversight.models import Hold
from registry.permissions import Verb
from registry.web import Deed, DeedForm, deeds, reason_field


class HoldRecords(DeedForm):
    """Why all records are held."""

    intro = _("While it stands, no version of this project’s data is erased.")
    why = text_field(_("Why"), _("An inquiry, a dispute, a request of the regulator."))

    def act(self) -> Hold:
        """Hold them."""
        return actions.hold_records(self.subject, **self.cleaned_data, by=self.by)


class LiftHold(DeedForm):
    """Why it is lifted."""

    reason = reason_field(_("Why it is lifted"))

    def act(self) -> Hold:
        """Lift it."""
        return actions.lift_hold(self.subject, **self.cleaned_data, by=self.by)


HOLD_RECORDS = Deed(
    Verb.PROJECT_HOLD_RECORDS, HoldRecords, _("Hold its records"), _("Why must they be kept?")
)
HOLD_DEEDS = deeds(Deed(Verb.HOLD_LIFT, LiftHold, _("Lift the hold"), _("Why is it lifted?")))
