"""The input of each deed on the course of a project: halts, and its end."""

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.projects import actions
from registry.projects.models import Project
from registry.saying import day_said
from registry.web import DeedForm, reason_field


class HaltForm(DeedForm):
    """Why it must stop."""

    caution = _(
        "Anyone may stop data collection when an animal or a person may come to harm. Tell the "
        "keeper and the veterinary surgeon at once; care of the animals goes on."
    )
    reason = reason_field(_("What is wrong"), _("Only a vet and a chair together lift a halt."))

    def act(self) -> Project:
        """Halt it."""
        return actions.halt_project(self.subject, **self.cleaned_data, by=self.by)


class Resume(DeedForm):
    """Why it may go on."""

    intro = _(
        "Two people must assent: a veterinary surgeon, and the chair of a body that approved the "
        "project. Collecting goes on when both have."
    )
    reason = reason_field(_("Why it may go on"))

    @property
    def matter(self) -> str:
        """Why it was halted, by whom, and who has assented so far."""
        halt = self.subject.halts.filter(ended_on=None).first()
        if halt is None:
            return ""
        begun = gettext("Halted by {person} on {day}.").format(
            person=halt.halted_by.name, day=day_said(halt.began_on)
        )
        assent = halt.vet_assent or halt.body_assent
        so_far = (
            gettext("{person} has assented.").format(person=assent.name)
            if assent
            else gettext("Nobody has assented yet.")
        )
        return f"{halt.why} {begun} {so_far}"

    def act(self) -> Project:
        """Assent."""
        return actions.lift_halt(self.subject, **self.cleaned_data, by=self.by)


class Finish(DeedForm):
    """Nothing to fill in."""

    intro = _("After this no session can be planned. Data can still be deposited.")

    def act(self) -> Project:
        """Finish it."""
        return actions.finish_project(self.subject, by=self.by)


class Abandon(DeedForm):
    """Why it is given up."""

    intro = _("The record stays. The animals must be discharged and the booking released as well.")
    reason = reason_field(_("Why it is given up"))

    def act(self) -> Project:
        """Abandon it."""
        return actions.abandon_project(self.subject, **self.cleaned_data, by=self.by)
