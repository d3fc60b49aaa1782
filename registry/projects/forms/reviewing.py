"""The input of each deed by which a plan is submitted, returned and accepted."""

from django.utils.translation import gettext_lazy as _

from registry.projects import actions
from registry.projects.forms.fields import text_field
from registry.projects.models import Project
from registry.web import DeedForm, reason_field


class Submit(DeedForm):
    """Nothing to fill in."""

    intro = _(
        "A supervisor who is no member reviews the design. Until the review you cannot change it."
    )

    def act(self) -> Project:
        """Submit it."""
        return actions.submit_plan(self.subject, by=self.by)


class Return(DeedForm):
    """What must change."""

    reason = reason_field(_("What must change"), _("The members read this."))

    def act(self) -> Project:
        """Return it."""
        return actions.return_plan(self.subject, **self.cleaned_data, by=self.by)


class Accept(DeedForm):
    """Remarks, if there are any."""

    intro = _(
        "You look at the design: the unit, the replication, the allocation, the blinding, the "
        "reason for the numbers. Whether the work may be done is for the bodies to decide."
    )
    remarks = text_field(
        _("Remarks"), _("The members and the deciders read these."), required=False
    )

    def act(self) -> Project:
        """Accept it."""
        return actions.accept_plan(self.subject, **self.cleaned_data, by=self.by)
