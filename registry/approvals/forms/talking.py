"""The input of deeds by which a request is talked over: comments, answers, items of the lists."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.approvals import actions
from registry.approvals.checklists import ITEMS
from registry.approvals.models import Approval, Change
from registry.projects.forms import choose, text_field
from registry.web import DeedForm


class CommentOn(DeedForm):
    """What one has to say."""

    intro = _("All who may read the request read this. It decides nothing.")

    text = text_field(_("Comment"))

    def act(self) -> Approval:
        """Keep it."""
        return actions.comment_on(self.subject, **self.cleaned_data, by=self.by).approval


class AnswerChange(DeedForm):
    """Which point, and what was done about it."""

    change = forms.ModelChoiceField(Change.objects.none(), label=_("Point"))
    answer = text_field(_("Answer"), _("What you changed, or why you did not."))

    def fit(self) -> None:
        """Offer the points that have no answer."""
        choose(self, "change", self.subject.changes.filter(answered_at=None))

    def act(self) -> Approval:
        """Answer it."""
        return actions.answer_change(self.subject, **self.cleaned_data, by=self.by).approval


class WriteItem(DeedForm):
    """Which item of the lists, and what there is to say to it."""

    intro = _(
        "The lists are ARRIVE 2.0 (Percie du Sert and others, 2020) and PREPARE (Smith and others, "
        "2018). Read there what an item asks; most are answered by the plan."
    )

    code = forms.ChoiceField(
        choices=[
            ("", _("Choose one")),
            *((one.code, f"{one.code}: {one.title}") for one in ITEMS.values() if not one.is_later),
        ],
        label=_("Item"),
    )
    text = text_field(_("What there is to say to it"))

    def fit(self) -> None:
        """Begin with what was written to the item that the address names."""
        code: Any = self.initial.get("code")
        held = self.subject.items.filter(code=code).first() if code else None
        if held is not None:
            self.initial.setdefault("text", held.text)

    def act(self) -> Approval:
        """Write it."""
        return actions.write_item(self.subject, **self.cleaned_data, by=self.by).approval
