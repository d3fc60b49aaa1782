"""To describe: widths of intervals, a whole collection, the resource equation."""

from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from registry import design
from registry.desk.designing.aside.base import AsideForm, Said
from registry.desk.designing.asking import number, whole

_CONFIDENCE = number(_("Confidence"), _("0.95 is 95 per cent."), required=False, first=0.95)
_HALF = number(_("Half of the interval"), _("How far the truth may lie to either side."))


def _enough(n: int, half: float) -> str:
    return _now("{n} units give an interval of ± {half} or narrower.").format(n=n, half=f"{half:g}")


class MeanWidthForm(AsideForm):
    """How many for an interval of a mean."""

    title = _("Interval of a mean")
    said = _("To describe, not to test: how many units give a mean with an interval so narrow.")

    sd = number(_("Standard deviation"), _("Between units, in the outcome’s own unit."))
    half_width = _HALF
    confidence = _CONFIDENCE

    def answered(self) -> Said:
        """Say the number, and the width that other numbers reach."""
        sd, confidence = self.cleaned_data["sd"], self.given("confidence", 0.95)
        half = self.cleaned_data["half_width"]
        n = design.number_for_mean(half, sd, confidence)
        numbers = sorted({max(2, n // 2), max(2, n - 1), n, n + 1, 2 * n})
        return Said(
            _now("{n} units give an interval of ± {half} or narrower.").format(
                n=n, half=f"{half:g}"
            ),
            (_now("Units are independent of each other; animals of one tank are not."),),
            _now("t interval; Student (1908)"),
            (_now("Units"), _now("Half of the interval")),
            tuple(
                (str(one), f"{design.mean_half_width(one, sd, confidence):.4g}") for one in numbers
            ),
        )


class ShareWidthForm(AsideForm):
    """How many for an interval of a share."""

    title = _("Interval of a share")
    said = _("To describe: how many units give a share, such as of eggs that hatch, so closely.")

    share = number(_("Expected share"), _("From 0 to 1; 0.5 needs the most."))
    half_width = _HALF
    confidence = _CONFIDENCE

    def answered(self) -> Said:
        """Say the number, and the width that other numbers reach."""
        share, confidence = self.cleaned_data["share"], self.given("confidence", 0.95)
        half = self.cleaned_data["half_width"]
        n = design.number_for_share(share, half, confidence)
        numbers = sorted({max(1, n // 2), n, 2 * n})
        return Said(
            _now("{n} units give an interval of ± {half} or narrower.").format(
                n=n, half=f"{half:g}"
            ),
            (_now("Units are independent of each other; eggs of one tank are not."),),
            _now("Wilson’s interval; Newcombe (1998)"),
            (_now("Units"), _now("Half of the interval")),
            tuple(
                (str(one), f"{design.wilson_half_width(one, share, confidence):.3f}")
                for one in numbers
            ),
        )


class CollectionForm(AsideForm):
    """How many of a finite collection, to describe it."""

    title = _("A whole collection, described")
    said = _("How many of a collection to look at, where nothing beyond it is meant.")

    collection = whole(_("Animals in the collection"))
    share = number(_("Expected share"), _("0.5 needs the most."), required=False, first=0.5)
    half_width = number(_("Half of the interval"), required=False, first=0.05)
    confidence = _CONFIDENCE

    def answered(self) -> Said:
        """Say the number, rounded up."""
        whole_ = self.cleaned_data["collection"]
        n = design.wald_number(
            self.given("share", 0.5), self.given("half_width", 0.05), self.given("confidence", 0.95)
        )
        found = min(whole_, -int(-design.of_a_collection(n, whole_) // 1))
        return Said(
            _now("Look at {n} of the {whole}.").format(n=found, whole=whole_),
            (
                _now("Without an end to the collection it would be {n}.").format(n=-int(-n // 1)),
                _now(
                    "Only to describe this collection: a test of a treatment is meant for animals "
                    "like these, and takes no such discount."
                ),
            ),
            _now("Cochran (1977), section 4.6; Krejcie and Morgan (1970)"),
        )


class ResourceForm(AsideForm):
    """The resource equation, where nothing is known of spread and effect."""

    title = _("Nothing known: the resource equation")
    said = _("Degrees of freedom left for error, where neither spread nor effect is known.")

    units = whole(_("Units in all"))
    treatments = whole(_("Treatments"), first=2)
    blocks = whole(_("Blocks"), required=False, first=1)

    def answered(self) -> Said:
        """Say what is left for error."""
        given = self.cleaned_data
        left = design.error_degrees(given["units"], given["treatments"], self.given("blocks", 1))
        return Said(
            design.resource_said(left),
            (
                _now(
                    "It knows neither spread nor effect: run a pilot, or take an earlier cohort’s "
                    "spread, as soon as there is one."
                ),
            ),
            _now("Mead (1988); Festing (2018)"),
        )
