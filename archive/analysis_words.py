"""The words of analyses: what each is of, what its columns hold, and what its tests are called."""

from django.utils.translation import gettext_lazy as _

from registry.web import Words

GROUPS_SAID: dict[str, Words] = {
    "doing": _("What do the animals do?"),
    "differing": _("Does it differ?"),
    "growing": _("How do they grow, eat, hatch and live?"),
    "warming": _("What does warmth or a dose do?"),
    "trusting": _("Can the records be trusted?"),
    "together": _("What do cohorts say together?"),
}
"""The question that each group of analyses answers."""

SAID: dict[str, tuple[Words, Words]] = {
    "budget": (
        _("Time budget"),
        _("Scans at set moments: the share of each behaviour, over animals."),
    ),
    "one_zero": (
        _("One-zero records"),
        _("Intervals in which a behaviour was seen at all: a share of intervals, not of time."),
    ),
    "bouts": (
        _("Bouts and events"),
        _("Records without a break: how often, how long and how soon, over animals."),
    ),
    "sequence": (
        _("What follows what"),
        _("Each behaviour after each, against chance, and how varied animals are."),
    ),
    "space": (_("Use of space"), _("Sightings in zones: how evenly animals use what they have.")),
    "comparison": (
        _("Comparison"),
        _("One outcome, a number or a count out of a total, between treatments."),
    ),
    "reversal": (
        _("Phases within animals"),
        _("A treatment given, taken away and given again: tested by how its changes were drawn."),
    ),
    "along": (
        _("Visitors, noise and weather"),
        _("A behaviour or a number, session by session, against what changed beside it."),
    ),
    "growth": (_("Growth"), _("Weighings over time: the growth rate of each unit, by treatment.")),
    "condition": (
        _("Condition"),
        _("Mass for a length: the condition of each unit, and how mass goes with length."),
    ),
    "feeding": (
        _("Feed conversion"),
        _("What was fed for what was gained, one ratio for each unit, by treatment."),
    ),
    "hatching": (_("Hatching success"), _("Eggs laid, fertile and hatched, by treatment.")),
    "survival": (
        _("Time until something happens"),
        _("Hatching, settling, dying: curves by treatment, what had not happened included."),
    ),
    "warmth": (
        _("Degree-days"),
        _("A log of temperatures: the warmth above a base that each unit had."),
    ),
    "rates": (
        _("Rate and temperature"),
        _("By how much a rate grows over ten degrees, Q10, each unit once."),
    ),
    "response": (
        _("Response to a dose or a temperature"),
        _("The share that responds: where it reaches half, units allowed to differ."),
    ),
    "agreement": (
        _("Agreement of observers"),
        _("The same moments coded by several: kappa, with its interval."),
    ),
    "measured": (
        _("Agreement of measurements"),
        _("The same things measured by several: intraclass correlation in its six forms."),
    ),
    "interval": (
        _("Interval between scans"),
        _("Continuous records scanned again: which interval would have done."),
    ),
    "cohorts": (
        _("Cohorts together"),
        _("What each cohort found, and what they say as one, with a forest plot."),
    ),
}
"""The name of each analysis, and what it is of."""

SLOTS: dict[str, tuple[Words, Words]] = {
    "animal": (_("Animal"), _("Each animal counts once, however often it was seen.")),
    "behaviour": (_("Behaviour"), ""),
    "session": (_("Session"), ""),
    "time": (_("Time"), _("A day, a moment, or a length of time.")),
    "interval": (_("Interval"), _("Which interval of the session a row is of.")),
    "begin": (_("Beginning"), _("A moment, or seconds since the session began.")),
    "end": (_("End"), _("Of a state; an event has none.")),
    "opened": (_("Beginning of the session"), _("Latencies are counted from it.")),
    "closed": (_("End of the session"), _("Or say below how long each lasted.")),
    "zone": (_("Zone"), ""),
    "outcome": (_("Outcome"), ""),
    "of": (_("Out of"), _("Only where the outcome is a count: the column of its totals.")),
    "unit": (_("Unit"), _("What the treatment was given to: a tank, not the fish in it.")),
    "treatment": (
        _("Treatment"),
        _("Leave it empty to take the arms from the register’s draw, once revealed."),
    ),
    "phase": (_("Phase"), _("With the treatment or without it, in every row.")),
    "order": (_("Day or session"), _("Whose order is that of the sessions.")),
    "covariate": (_("What changed beside it"), _("Visitors, a level of sound, warmth.")),
    "medium": (
        _("Medium of the sound"),
        _("Air or water, where the table holds both; they are never put together."),
    ),
    "mass": (_("Mass"), _("In grams.")),
    "length": (_("Length"), _("In centimetres.")),
    "feed": (_("Fed"), _("Mass of the feed, in the unit of the gain.")),
    "gain": (_("Gained"), _("Mass that the unit gained over the same time.")),
    "fertile": (_("Fertile eggs"), ""),
    "hatched": (_("Hatched"), ""),
    "laid": (_("Laid"), ""),
    "happened": (_("Whether it happened"), _("Leave it empty where it happened in every row.")),
    "lowest": (_("Temperature"), _("Each reading in °C, or the lowest of each day.")),
    "highest": (_("Highest of the day"), _("Leave it empty where a row is one reading.")),
    "rate": (_("Rate"), _("Above 0.")),
    "temperature": (_("Temperature"), _("In °C.")),
    "family": (_("Family"), _("Species or clutches that have a level of their own.")),
    "dose": (_("Dose or temperature"), ""),
    "responded": (_("Responded"), _("How many of the unit did.")),
    "moment": (_("Moment or thing"), _("What is the same for all observers of it.")),
    "observer": (_("Observer"), ""),
}

TEST_NAMES: dict[str, Words] = {
    "unit_t": _("t test of unit means"),
    "welch_t": _("Welch’s t test of unit means"),
    "rank_sum": _("Wilcoxon–Mann–Whitney rank sum, exact"),
    "as_randomised": _("randomisation test by the recorded draw"),
    "paired_t": _("paired t test"),
    "orders_as_randomised": _("randomisation test by the recorded draw of orders"),
    "signed_ranks": _("Wilcoxon signed ranks, exact"),
    "unit_f": _("analysis of variance of unit means"),
    "kruskal_wallis": _("Kruskal–Wallis, exact"),
    "among_arms_as_randomised": _("randomisation test of several arms by the recorded draw"),
    "friedman": _("Friedman, exact"),
    "page": _("Page’s trend, exact"),
    "logit_t": _("t test of empirical logits of units"),
    "quasi_binomial": _("quasi-binomial t test"),
}
