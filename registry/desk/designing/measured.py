"""Designs of what is measured, each with what it alone is asked."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.desk.designing.asking import SizeForm, number, numbers_in, whole

SD = number(_("Standard deviation"), _("Between units of one arm, in the outcome’s own unit."))
_RHO = number(
    _("Correlation within a unit"), _("Of two measurements of the same unit, 0 to below 1.")
)
_ICC = number(
    _("ICC"),
    _("The share of the variance that lies between tanks, 0 to 1. Often 0.05 to 0.4."),
)
_MEANS = forms.ChoiceField(
    label=_("How the means lie"),
    help_text=_("The first needs the most units."),
    required=False,
    choices=[
        ("EXTREMES", _("two at the ends, all others in the middle")),
        ("EVEN", _("evenly between")),
        ("HALVES", _("half at either end")),
        ("DEVIATION", _("the effect is the standard deviation of the means")),
    ],
)
RISES = forms.ChoiceField(
    label=_("The treatment is expected to"),
    choices=[("rise", _("raise it")), ("fall", _("lower it"))],
    required=False,
)


class TwoGroupsForm(SizeForm):
    """Two groups of independent units, compared by t."""

    design = "TwoGroups"
    title = _("Two groups")
    said = _("Animals, or other units, each randomised by itself to one of two treatments.")
    sd = SD


class PairsForm(SizeForm):
    """Pairs of like units, or each unit under both treatments."""

    design = "Pairs"
    title = _("Pairs")
    said = _("Like units side by side, or each unit before and after, in a drawn order.")
    sd = SD
    rho = number(_("Correlation within a pair"), _("Above −1 and below 1; from earlier data."))
    n = whole(_("Pairs"), _("Leave it out to learn how many are needed."), required=False)


class OneGroupForm(SizeForm):
    """One group against a value."""

    design = "OneGroup"
    title = _("One group against a value")
    said = _("Units measured once, held against a value that is known or agreed.")
    sd = SD
    n = whole(_("Units"), _("Leave it out to learn how many are needed."), required=False)


class SeveralGroupsForm(SizeForm):
    """Three or more groups, by analysis of variance."""

    design = "SeveralGroups"
    title = _("Several groups")
    said = _("Three or more treatments, each unit randomised by itself to one of them.")
    groups = whole(_("Groups"), first=3)
    sd = SD
    means = _MEANS


class FactorialForm(SizeForm):
    """Two treatments crossed."""

    design = "Factorial"
    title = _("Factorial")
    said = _("Two or more treatments crossed: every combination has the same number of units.")
    levels = forms.CharField(
        label=_("Levels of each factor"),
        help_text=_("Such as 2, 2 for light and dark at two temperatures."),
        initial="2, 2",
        required=False,
        max_length=40,
    )
    of = forms.CharField(
        label=_("Effect that is looked for"),
        help_text=_("1 is the first factor’s main effect; 1, 2 is the interaction of the two."),
        initial="1",
        required=False,
        max_length=40,
    )
    sd = SD
    n = whole(
        _("Units in each cell"), _("Leave it out to learn how many are needed."), required=False
    )

    def clean_levels(self) -> tuple[int, ...] | None:
        """Read the levels."""
        return tuple(int(one) for one in numbers_in(self.cleaned_data["levels"])) or None

    def clean_of(self) -> tuple[int, ...] | None:
        """Read which factors are meant, counted from 1."""
        return tuple(int(one) - 1 for one in numbers_in(self.cleaned_data["of"])) or None


class TankMeansForm(SizeForm):
    """Tanks with animals inside, compared by tank means."""

    design = "TankMeans"
    title = _("Tanks with animals, measured")
    said = _("The treatment is given to whole tanks or enclosures, and the animals are measured.")
    sd = number(_("Standard deviation"), _("Between animals of one arm, over tanks."))
    icc = _ICC
    per_unit = number(_("Animals in a tank"), _("The harmonic mean where tanks are unequal."))
    arms = whole(_("Arms"), first=2, required=False)
    means = _MEANS
    n = whole(
        _("Tanks in each arm"), _("Leave it out to learn how many are needed."), required=False
    )


class TankSharesForm(SizeForm):
    """Tanks with eggs inside, compared by tank shares."""

    design = "TankShares"
    title = _("Tanks with eggs, counted")
    said = _("The treatment is given to whole tanks; of the eggs in each some hatch.")
    baseline = number(_("Share without treatment"), _("Above 0 and below 1."))
    icc = number(_("ICC"), _("Correlation of two eggs of one tank, 0 to 1."))
    per_unit = whole(_("Eggs in a tank"))
    rises = RISES
    n = whole(
        _("Tanks in each arm"), _("Leave it out to learn how many are needed."), required=False
    )


class FollowedForm(SizeForm):
    """Units measured before and after."""

    design = "Followed"
    title = _("Before and after, two arms")
    said = _("Each unit is measured some times before the treatment and some times after.")
    sd = SD
    rho = _RHO
    before = whole(_("Measurements before"), first=1)
    after = whole(_("Measurements after"), first=1)
    follow = forms.ChoiceField(
        label=_("What is compared"),
        required=False,
        choices=[
            ("COVARIATE", _("mean after, with the mean before as covariate")),
            ("CHANGE", _("mean after less mean before")),
            ("AFTER", _("mean after")),
        ],
    )


class SlopesForm(SizeForm):
    """Units measured over time, compared by slope."""

    design = "Slopes"
    title = _("Growth: slopes over time")
    said = _("Each unit is measured at the same times; compared is how fast the outcome changes.")
    sd = SD
    rho = _RHO
    times = forms.CharField(
        label=_("Times of measurement"), help_text=_("Such as 0, 7, 14, 28."), max_length=400
    )
    sd_slopes = number(
        _("Standard deviation of true slopes"), _("Between units; 0 if not known."), required=False
    )

    def clean_times(self) -> tuple[float, ...]:
        """Read the times."""
        return numbers_in(self.cleaned_data["times"])


class CrossoverForm(SizeForm):
    """Every unit under every treatment, in balanced orders."""

    design = "Crossover"
    title = _("Crossover")
    said = _("Every unit goes through all treatments, in orders that balance each other.")
    sd = SD
    rho = _RHO
    treatments = whole(_("Treatments"), first=2)
    carryover = forms.BooleanField(label=_("Estimate carryover"), required=False)
    n = whole(_("Units in all"), _("Leave it out to learn how many are needed."), required=False)
