"""How each kind of analysis is done, in a sentence, and what is cited with it and its tests."""

KINDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "budget": (
        (
            "Time budgets are shares of visible sample points; points of an animal were added over "
            "its sessions and each animal counted once, with t intervals over animals"
        ),
        ("altmann",),
    ),
    "space": (
        (
            "Use of space is the spread of participation for unequal zones, beside it the original "
            "index as if zones were of one size, and the relativised "
            "electivity of each zone, by animal and over animals"
        ),
        ("dickens", "plowman", "vanderploeg"),
    ),
    "comparison": ("Rows were averaged by experimental unit, and each unit counted once", ()),
    "growth": (
        (
            "Growth is the specific rate of each experimental unit, 100 (ln W2 − ln W1) / days, "
            "between its mean mass on its first and on its last day"
        ),
        ("ricker",),
    ),
    "hatching": (
        (
            "Hatching success is the share of fertile eggs, compared between experimental units; "
            "intervals of pooled eggs are Wilson’s, and are not used for comparison"
        ),
        ("wilson", "haldane"),
    ),
    "survival": (
        (
            "Times to the event are shown by Kaplan and Meier’s curves; what had not happened by "
            "the last look counts as not yet"
        ),
        ("kaplan", "mantel"),
    ),
    "agreement": (
        (
            "Agreement of observers is Cohen’s kappa of each pair, Fleiss’ kappa of three or more "
            "who coded the same moments, and Krippendorff’s alpha of all"
        ),
        ("cohen", "fleiss", "krippendorff"),
    ),
    "one_zero": (
        (
            "Shares are of intervals in which a behaviour was seen at all; intervals of an animal "
            "were added over its sessions and each animal counted once, with t intervals over "
            "animals; they are no shares of time"
        ),
        ("altmann",),
    ),
    "bouts": (
        (
            "Rates are bouts or events in an hour of visible time, lengths are those of whole and "
            "of cut bouts, latencies run from the beginning of a session; each was averaged by "
            "animal and each animal counted once, with t intervals over animals; sessions in which "
            "bouts overlapped or lay outside were left out whole"
        ),
        ("altmann",),
    ),
    "sequence": (
        (
            "Transitions were counted within sessions and held against independence, or "
            "quasi-independence where a behaviour cannot follow itself, by adjusted residuals; "
            "that they bear out in how many animals is told beside"
        ),
        ("haberman", "bakeman", "shannon"),
    ),
    "along": (
        (
            "The outcome was averaged by session, the covariate too (levels of sound by their "
            "energy, air and water apart), and a line was put through the sessions of each animal; "
            "slopes were averaged over animals, and where animals shared sessions and covariate a "
            "line over sessions stands first"
        ),
        ("lorch",),
    ),
    "reversal": (
        (
            "Sessions of an animal were averaged, and the difference between phases was held "
            "against that of every other place of the changes, or of every other order, that the "
            "draw could have given"
        ),
        ("edgington", "onghena"),
    ),
    "condition": (
        (
            "Condition is Fulton’s factor, 100 W / L³ in grams and centimetres, of each animal, "
            "averaged by experimental unit; mass by length is the line through their logarithms"
        ),
        ("fulton", "lecren"),
    ),
    "feeding": (
        "Feed conversion is the feed over the gain of mass of each experimental unit, added first",
        (),
    ),
    "warmth": (
        (
            "Degree-days are those above a base by a single sine between the lowest and the "
            "highest temperature of each day, added up by unit"
        ),
        ("baskerville",),
    ),
    "rates": (
        (
            "Q10 is 10 to the power of ten times the slope of decadic logarithms of rates on "
            "temperature, each unit once at each temperature, with a t interval"
        ),
        ("hoff",),
    ),
    "response": (
        (
            "Counts of units were fitted by a logistic curve with the spread between units in its "
            "errors; the dose or temperature at which half respond has Fieller’s interval"
        ),
        ("finney", "mccullagh"),
    ),
    "measured": (
        (
            "Agreement of measurements is the intraclass correlation in its six forms, of what "
            "every observer measured, and Krippendorff’s alpha of numbers, which bears gaps"
        ),
        ("shrout", "krippendorff"),
    ),
    "interval": (
        (
            "Continuous records were scanned again at each interval from two hundred beginnings, "
            "and the error of the mean over animals was held against its interval"
        ),
        ("altmann", "bernstein"),
    ),
    "cohorts": (
        (
            "Differences of means of units were pooled over cohorts by random effects, with the "
            "variance between cohorts by restricted maximum likelihood and the interval "
            "of Hartung and Knapp"
        ),
        ("viechtbauer", "hartung"),
    ),
}
"""The sentence of each kind, and the references that go with it."""

TESTS = {
    "unit_t": ("student",),
    "welch_t": ("welch",),
    "paired_t": ("student",),
    "rank_sum": ("wilcoxon", "mann"),
    "signed_ranks": ("wilcoxon",),
    "unit_f": ("fisher",),
    "kruskal_wallis": ("kruskal",),
    "friedman": ("friedman",),
    "page": ("page",),
    "logit_t": ("haldane",),
    "quasi_binomial": ("mccullagh",),
    "as_randomised": ("fisher", "edgington"),
    "among_arms_as_randomised": ("edgington",),
    "tank_log_rank": ("mantel", "edgington"),
    "log_rank": ("mantel",),
    "hedges_g": ("hedges",),
    "every_pair": ("tukey",),
    "by_stratum": ("edgington",),
    "orders_as_randomised": ("edgington",),
    "slopes_t": ("student",),
    "sessions_t": ("student",),
    "phases_as_randomised": ("edgington",),
}
"""The references that go with each test."""

ESTIMATES = frozenset({"q10", "half_dose"})
"""What is estimated and not tested: it has an interval and no p."""
