"""The input of each deed on a study or a project, for its page and for the API."""

from django.utils.translation import gettext_lazy as _

from registry.permissions import Verb
from registry.projects.forms.course import Abandon, Finish, HaltForm, Resume
from registry.projects.forms.fields import choose, several, text_field
from registry.projects.forms.people import Assign, SignAgreement, Unassign
from registry.projects.forms.plan import AddArm, DropArm, DropDesign, Reveal, WritePlan
from registry.projects.forms.reviewing import Accept, Return, Submit
from registry.projects.forms.studies import Extend, OpenProject, OpenStudy, TakeQuestion
from registry.web import Deed, deeds

__all__ = [
    "ALLOCATION_DEEDS",
    "DEEDS",
    "OPEN",
    "STUDY_DEEDS",
    "choose",
    "several",
    "text_field",
]

OPEN = Deed(
    Verb.STUDY_OPEN,
    OpenStudy,
    _("Open the study"),
    _("What is to be found out?"),
    _(
        "A study is long-lived: it takes on questions, owns the dictionary, and has one cohort "
        "after another."
    ),
)

STUDY_DEEDS = deeds(
    Deed(Verb.STUDY_OPEN_PROJECT, OpenProject, _("Open a cohort"), _("Which cohort, and when?")),
    Deed(
        Verb.STUDY_TAKE_QUESTION,
        TakeQuestion,
        _("Take a question on"),
        _("Take another question on"),
    ),
)

DEEDS = deeds(
    Deed(
        Verb.PROJECT_WRITE_PLAN,
        WritePlan,
        _("Write the plan"),
        _("How is it to be done?"),
        _(
            "Keep it as often as you like, with gaps; what is still missing must be there "
            "before it is submitted."
        ),
    ),
    Deed(Verb.PROJECT_ADD_ARM, AddArm, _("Add a treatment"), _("Add a treatment or group")),
    Deed(Verb.PROJECT_DROP_ARM, DropArm, _("Drop a treatment"), _("Drop a treatment or group")),
    Deed(Verb.PROJECT_DROP_DESIGN, DropDesign, _("Drop a sum"), _("Drop a sum from the plan")),
    Deed(Verb.PROJECT_SUBMIT, Submit, _("Submit the plan"), _("Submit the plan for review?")),
    Deed(Verb.PROJECT_ACCEPT, Accept, _("Accept the plan"), _("Is the design sound?")),
    Deed(Verb.PROJECT_RETURN, Return, _("Return the plan"), _("What must change in the plan?")),
    Deed(
        Verb.PROJECT_SIGN_AGREEMENT,
        SignAgreement,
        _("Sign the data agreement"),
        _("Who may use the data again?"),
    ),
    Deed(Verb.PROJECT_RESUME, Resume, _("Assent to lifting the halt"), _("May collecting go on?")),
    Deed(Verb.PROJECT_FINISH, Finish, _("Finish collecting"), _("Is everything collected?")),
    Deed(Verb.PROJECT_ASSIGN, Assign, _("Assign someone"), _("Who takes part?")),
    Deed(Verb.PROJECT_UNASSIGN, Unassign, _("End a part"), _("Whose part ends?")),
    Deed(Verb.PROJECT_EXTEND, Extend, _("Open the next cohort"), _("Who goes on with it?")),
    Deed(Verb.PROJECT_HALT, HaltForm, _("Halt for welfare"), _("Stop data collection now?")),
    Deed(Verb.PROJECT_ABANDON, Abandon, _("Abandon"), _("Give this project up?")),
)

ALLOCATION_DEEDS = deeds(
    Deed(Verb.ALLOCATION_REVEAL, Reveal, _("Reveal the key"), _("Show everyone who got what?")),
)
