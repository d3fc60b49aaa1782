"""The input of each deed on an approval and of those asked of a project, for pages and API."""

from django.utils.translation import gettext_lazy as _

from registry.approvals.forms.asking import AddLimit, Cover, DropLimit, Submit
from registry.approvals.forms.deciding import Approve, Decide, Refuse, Return
from registry.approvals.forms.granted import Close, GiveEvidence, Reinstate, Suspend, Withdraw
from registry.approvals.forms.judging import DecideReuse, DecideStage
from registry.approvals.forms.needs import Start, StateNeed
from registry.approvals.forms.screening import Screen
from registry.approvals.forms.talking import AnswerChange, CommentOn, WriteItem
from registry.approvals.forms.terms import Amend, RequestApproval
from registry.permissions import Verb
from registry.web import Deed, deeds

PROJECT_DEEDS = deeds(
    Deed(Verb.PROJECT_START, Start, _("Start collecting"), _("Is everything ready to start?")),
    Deed(Verb.PROJECT_NEED, StateNeed, _("State a need"), _("Which permission is needed?")),
    Deed(Verb.PROJECT_SCREEN, Screen, _("Screen a procedure"), _("Is this procedure regulated?")),
    Deed(
        Verb.PROJECT_DECIDE_STAGE,
        DecideStage,
        _("Decide on a stage"),
        _("Is this animal protected at its stage?"),
    ),
    Deed(
        Verb.PROJECT_DECIDE_REUSE,
        DecideReuse,
        _("Advise on use again"),
        _("May this animal be used again?"),
    ),
    Deed(
        Verb.PROJECT_REQUEST_APPROVAL,
        RequestApproval,
        _("Request an approval"),
        _("What is asked of which body?"),
    ),
)

DEEDS = deeds(
    Deed(Verb.APPROVAL_APPROVE, Approve, _("Approve"), _("Approve this?")),
    Deed(Verb.APPROVAL_RETURN, Return, _("Ask for changes"), _("What must change?")),
    Deed(Verb.APPROVAL_REFUSE, Refuse, _("Refuse"), _("Why is it refused?")),
    Deed(Verb.APPROVAL_ADD_LIMIT, AddLimit, _("Add a limit"), _("How many, by which procedure?")),
    Deed(Verb.APPROVAL_DROP_LIMIT, DropLimit, _("Drop a limit"), _("Which limit is dropped?")),
    Deed(Verb.APPROVAL_COVER, Cover, _("Cover another project"), _("Which project too?")),
    Deed(
        Verb.APPROVAL_ANSWER_CHANGE,
        AnswerChange,
        _("Answer a point"),
        _("What was done about this point?"),
    ),
    Deed(
        Verb.APPROVAL_WRITE_ITEM,
        WriteItem,
        _("Write to an item"),
        _("What is there to say to this item?"),
    ),
    Deed(Verb.APPROVAL_SUBMIT, Submit, _("Submit for decision"), _("Submit it for decision?")),
    Deed(
        Verb.APPROVAL_GIVE_EVIDENCE, GiveEvidence, _("Give evidence"), _("Which condition is met?")
    ),
    Deed(Verb.APPROVAL_COMMENT, CommentOn, _("Comment"), _("What have you to say of it?")),
    Deed(Verb.APPROVAL_AMEND, Amend, _("Request an amendment"), _("What is to change?")),
    Deed(Verb.APPROVAL_REINSTATE, Reinstate, _("Reinstate"), _("Put it in force again?")),
    Deed(Verb.APPROVAL_CLOSE, Close, _("Close"), _("Is the work under it done?")),
    Deed(Verb.APPROVAL_SUSPEND, Suspend, _("Suspend"), _("Suspend this approval from today?")),
    Deed(Verb.APPROVAL_WITHDRAW, Withdraw, _("Withdraw"), _("Withdraw it for good?")),
)

__all__ = ["DEEDS", "PROJECT_DEEDS", "Decide"]
