"""The page on which a study is drawn thousands of times."""

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.desk.designing.asking import number, numbers_in, whole
from registry.desk.designing.drawn import DrawForm, Given


class SimulateForm(DrawForm):
    """A study to be drawn thousands of times, and the test that the plan names."""

    part = "simulation"
    title = _("Draw it thousands of times")
    said = _("Power and type I error of a study that no formula knows, with the test of the plan.")

    outcome = forms.ChoiceField(
        label=_("What is observed"),
        choices=[
            ("measure", _("measured on each animal")),
            ("share", _("each animal does it or not")),
            ("count", _("events counted in each tank")),
        ],
        initial="measure",
    )
    means = forms.CharField(
        label=_("What is expected in each arm"),
        help_text=_("Means, shares or counts, such as 0, 1."),
        max_length=400,
    )
    units = whole(_("Tanks or units in each arm"))
    per_unit = whole(_("Animals in each"), first=1)
    sd = number(_("Standard deviation"), _("Between animals, of a measure."), first=1)
    icc = number(_("ICC"), _("Of a measure, 0 to 1."), required=False, first=0)
    sd_units = number(
        _("Spread between tanks"), _("On the logit or logarithm, of shares and counts."),
        required=False, first=0,
    )  # fmt: skip
    sd_blocks = number(_("Spread between blocks"), required=False, first=0)
    analysis = forms.ChoiceField(
        label=_("The test that the plan names"),
        choices=[
            ("unit_t", _("t test of tank means")),
            ("unit_welch", _("Welch’s t test of tank means")),
            ("unit_f", _("analysis of variance of tank means")),
            ("unit_permutation", _("permutation of tanks")),
            ("unit_ranks", _("rank test of tank means")),
            ("block_t", _("t test within blocks")),
            ("block_signs", _("exact test of signs within blocks")),
            ("logit_t", _("t test of logits of tank shares")),
            ("quasi_t", _("quasi-binomial t test")),
            ("animal_t", _("t test of animals, as if tanks were nothing")),
            ("animal_z", _("z test of animals, as if tanks were nothing")),
            ("count_z", _("z test of counts, as if tanks were nothing")),
        ],
        initial="unit_t",
    )
    alpha = number(_("Significance level"), required=False, first=0.05)
    runs = whole(_("Simulated studies"), required=False, first=2000)
    seed = whole(_("Seed"), _("The same seed gives the same answer."), required=False, first=1)

    def clean_means(self) -> tuple[float, ...]:
        """Read the means."""
        return numbers_in(self.cleaned_data["means"])

    def sent(self) -> Given:
        """Give what the API takes."""
        return {
            name: list(value) if name == "means" else value
            for name, value in self.cleaned_data.items()
            if value not in {None, ""}
        }
