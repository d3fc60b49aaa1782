"""Designs of shares, counts, ranks and times, each with what it alone is asked."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.desk.designing.asking import SizeForm, number, whole
from registry.desk.designing.measured import RISES, SD


class TwoSharesForm(SizeForm):
    """Two shares of independent units."""

    design = "TwoShares"
    title = _("Two shares")
    said = _("Units alone that do it or do not, such as animals that take a food.")
    baseline = number(_("Share without treatment"), _("Above 0 and below 1."))
    rises = RISES
    by = forms.ChoiceField(
        label=_("Test"),
        required=False,
        choices=[
            ("FISHER", _("Fisher’s exact test")),
            ("POOLED", _("z test of two shares")),
            ("CORRECTED", _("z test with continuity correction")),
            ("ARCSINE", _("z test of arcsines")),
            ("BOSCHLOO", _("Boschloo’s exact test")),
        ],
    )


class ChangedPairsForm(SizeForm):
    """Who changed, and which way."""

    design = "ChangedPairs"
    title = _("Yes or no, in pairs")
    said = _("The same units asked twice: how many change, and which way.")
    discordant = number(_("Share of pairs that differ"), _("Above 0, at most 1."))
    n = whole(_("Pairs"), _("Leave it out to learn how many are needed."), required=False)


class TableForm(SizeForm):
    """A table of counts."""

    design = "Table"
    title = _("A table of counts")
    said = _("Units sorted into classes, each counted once; the effect is Cohen’s w.")
    df = whole(_("Degrees of freedom"), _("(rows − 1) × (columns − 1), or classes − 1."), first=1)
    n = whole(_("Units in all"), _("Leave it out to learn how many are needed."), required=False)


class TwoRatesForm(SizeForm):
    """Events in units alone."""

    design = "TwoRates"
    title = _("Counts of events")
    said = _("Events counted in units alone, each watched for a time.")
    baseline = number(_("Events without treatment"), _("For a unit in one unit of time."))
    exposure = number(_("Time that each is watched"), first=1, required=False)
    overdispersion = number(
        _("Overdispersion"),
        _("Squared coefficient of variation of the units’ own rates; 0 is Poisson."),
        required=False,
    )
    rises = RISES
    effect = number(
        _("Smallest ratio that would matter"), _("2 is twice as many, 0.5 half."), required=False
    )


class TankRatesForm(SizeForm):
    """Events in tanks."""

    design = "TankRates"
    title = _("Counts of events in tanks")
    said = _("The treatment is given to whole tanks; events among their animals are counted.")
    baseline = number(_("Events without treatment"), _("For an animal in one unit of time."))
    watched = number(_("Animals times time in a tank"))
    variation = number(_("Coefficient of variation between tanks"), _("Often 0.1 to 0.5."))
    rises = RISES
    n = whole(
        _("Tanks in each arm"), _("Leave it out to learn how many are needed."), required=False
    )
    effect = number(
        _("Smallest ratio that would matter"), _("2 is twice as many, 0.5 half."), required=False
    )


class RankedGroupsForm(SizeForm):
    """Two groups, by ranks."""

    design = "RankedGroups"
    title = _("Two groups, by ranks")
    said = _("As two groups, where the outcome has long tails or is a score.")
    sd = SD


class RankedPairsForm(SizeForm):
    """Pairs, by ranks."""

    design = "RankedPairs"
    title = _("Pairs, by ranks")
    said = _("As pairs, where the differences have long tails.")
    sd = number(_("Standard deviation of the differences"))
    n = whole(_("Pairs"), _("Leave it out to learn how many are needed."), required=False)


class CorrelationForm(SizeForm):
    """Two outcomes of each unit."""

    design = "Correlation"
    title = _("Correlation")
    said = _("Two outcomes measured once on each unit: whether they go together.")
    effect = number(
        _("Smallest correlation that would matter"), _("Above 0 and below 1."), required=False
    )
    n = whole(_("Units in all"), _("Leave it out to learn how many are needed."), required=False)


class WaitingForm(SizeForm):
    """Time until something happens."""

    design = "Waiting"
    title = _("Time until something happens")
    said = _("Units alone watched until they hatch, feed or settle, or the study ends.")
    events = number(
        _("Share in which it happens"), _("Without treatment, before the end; at most 1.")
    )
    rises = forms.ChoiceField(
        label=_("With treatment it is expected"),
        choices=[("rise", _("sooner")), ("fall", _("later"))],
        required=False,
    )
    effect = number(
        _("Smallest hazard ratio that would matter"),
        _("2 is twice as soon at every moment."),
        required=False,
    )
