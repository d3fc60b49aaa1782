"""The input of each deed on a breach."""

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.oversight import actions
from registry.oversight.forms.words import text_field
from registry.oversight.models import Breach
from registry.permissions import Verb
from registry.web import Deed, DeedForm, deeds, reason_field


class _OfABreach(DeedForm):
    """A deed on a breach, which its page then tells."""

    @property
    def matter(self) -> str:
        """What went outside the limit; under a query and a settlement the explanation too."""
        said: str = self.subject.said
        if not self.subject.explanation:
            return said
        explained = gettext("Explained: {text}").format(text=self.subject.explanation)
        return f"{said} {explained}"


class ExplainBreach(_OfABreach):
    """How it came about, and what keeps it from coming again."""

    caution = _(
        "If an animal may have come to harm, tell the veterinary surgeon before you write. A limit "
        "of a licence that was passed may have to be told to the regulator: ask the licence holder."
    )

    explanation = text_field(
        _("Your explanation"),
        _("How it came about, how the animal fares, and what keeps it from coming again."),
        rows=6,
    )

    def act(self) -> Breach:
        """Explain it."""
        return actions.explain_breach(self.subject, **self.cleaned_data, by=self.by)


class QueryBreach(_OfABreach):
    """What the explanation leaves open."""

    reason = reason_field(_("What it leaves open"), _("The lead supervisor reads this."))

    def act(self) -> Breach:
        """Ask again."""
        return actions.query_breach(self.subject, **self.cleaned_data, by=self.by)


class SettleBreach(_OfABreach):
    """Nothing to fill in."""

    intro = _("The explanation holds, and nothing more is asked.")

    def act(self) -> Breach:
        """Settle it."""
        return actions.settle_breach(self.subject, by=self.by)


BREACH_DEEDS = deeds(
    Deed(Verb.BREACH_EXPLAIN, ExplainBreach, _("Explain"), _("How did it come about?")),
    Deed(Verb.BREACH_SETTLE, SettleBreach, _("Settle"), _("Is it settled?")),
    Deed(
        Verb.BREACH_QUERY, QueryBreach, _("Ask again"), _("What does the explanation leave open?")
    ),
)
