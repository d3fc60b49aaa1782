"""The paragraph on methods that an analysis fills, with its references and reporting items."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

REFERENCES = {
    "altmann": "Altmann, J. (1974). Observational study of behavior: sampling methods. Behaviour, "
    "49, 227–267.",
    "plowman": "Plowman, A. B. (2003). A note on a modification of the spread of participation "
    "index allowing for unequal zones. Applied Animal Behaviour Science, 83, 331–336.",
    "vanderploeg": "Vanderploeg, H. A. and Scavia, D. (1979). Calculation and use of selectivity "
    "coefficients of feeding. Ecological Modelling, 7, 135–149.",
    "student": "Student (1908). The probable error of a mean. Biometrika, 6, 1–25.",
    "welch": "Welch, B. L. (1947). The generalization of “Student’s” problem. Biometrika, 34, "
    "28–35.",
    "fisher": "Fisher, R. A. (1935). The Design of Experiments. Oliver and Boyd.",
    "edgington": "Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed. Chapman "
    "and Hall/CRC.",
    "wilcoxon": "Wilcoxon, F. (1945). Individual comparisons by ranking methods. Biometrics "
    "Bulletin, 1, 80–83.",
    "mann": "Mann, H. B. and Whitney, D. R. (1947). On a test of whether one of two random "
    "variables is stochastically larger than the other. Annals of Mathematical Statistics, 18, "
    "50–60.",
    "kruskal": "Kruskal, W. H. and Wallis, W. A. (1952). Use of ranks in one-criterion variance "
    "analysis. Journal of the American Statistical Association, 47, 583–621.",
    "friedman": "Friedman, M. (1937). The use of ranks to avoid the assumption of normality. "
    "Journal of the American Statistical Association, 32, 675–701.",
    "page": "Page, E. B. (1963). Ordered hypotheses for multiple treatments. Journal of the "
    "American Statistical Association, 58, 216–230.",
    "tukey": "Tukey, J. W. (1953). The problem of multiple comparisons. Kramer, C. Y. (1956). "
    "Biometrics, 12, 307–310.",
    "hedges": "Hedges, L. V. (1981). Distribution theory for Glass’s estimator of effect size. "
    "Journal of Educational Statistics, 6, 107–128.",
    "haldane": "Haldane, J. B. S. (1956). The estimation and significance of the logarithm of a "
    "ratio of frequencies. Annals of Human Genetics, 20, 309–311.",
    "mccullagh": "McCullagh, P. and Nelder, J. A. (1989). Generalized Linear Models, 2nd ed. "
    "Chapman and Hall.",
    "wilson": "Wilson, E. B. (1927). Probable inference, the law of succession, and statistical "
    "inference. Journal of the American Statistical Association, 22, 209–212.",
    "ricker": "Ricker, W. E. (1979). Growth rates and models. Fish Physiology, 8, 677–743.",
    "kaplan": "Kaplan, E. L. and Meier, P. (1958). Nonparametric estimation from incomplete "
    "observations. Journal of the American Statistical Association, 53, 457–481.",
    "mantel": "Mantel, N. (1966). Evaluation of survival data and two new rank order statistics. "
    "Cancer Chemotherapy Reports, 50, 163–170.",
    "cohen": "Cohen, J. (1960). A coefficient of agreement for nominal scales. Educational and "
    "Psychological Measurement, 20, 37–46.",
    "krippendorff": "Krippendorff, K. (2011). Computing Krippendorff’s alpha-reliability. "
    "University of Pennsylvania.",
    "viechtbauer": "Viechtbauer, W. (2005). Bias and efficiency of meta-analytic variance "
    "estimators. Journal of Educational and Behavioral Statistics, 30, 261–293.",
    "hartung": "Hartung, J. and Knapp, G. (2001). A refined method for the meta-analysis of "
    "controlled clinical trials. Statistics in Medicine, 20, 3875–3889.",
    "arrive": "Percie du Sert, N. et al. (2020). The ARRIVE guidelines 2.0. PLoS Biology, 18, "
    "e3000410.",
}
"""References by a short key (from memory of the published works)."""

_KINDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "budget": (
        (
            "Time budgets are shares of visible sample points; points of an animal were added over "
            "its sessions and each animal counted once, with t intervals over animals"
        ),
        ("altmann",),
    ),
    "space": (
        (
            "Use of space is the spread of participation for unequal zones, and the relativised "
            "electivity of each zone, by animal and over animals"
        ),
        ("plowman", "vanderploeg"),
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
        "Agreement of observers is Cohen’s kappa of each pair and Krippendorff’s alpha of all",
        ("cohen", "krippendorff"),
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
_TESTS = {
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
}


@dataclass(frozen=True, slots=True)
class Methods:
    """Words for a dissertation.

    Parameters
    ----------
    text : str
        One paragraph.
    references : tuple of str
        In the order of their names.
    items : tuple of (str, str)
        Item of the ARRIVE guidelines 2.0, and what fills it.
    """

    text: str
    references: tuple[str, ...]
    items: tuple[tuple[str, str], ...]


def methods(
    kind: str,
    request: Mapping[str, Any],
    result: Mapping[str, Any],
    facts: Mapping[str, Any],
    *,
    is_planned: bool,
    code: str,
    digest: str,
    data: Sequence[str],
) -> Methods:
    """Write the paragraph of one analysis.

    Parameters
    ----------
    kind : str
        A key of `archive.analysis.asked.kinds.KINDS`.
    request, result, facts : mapping
        As they are recorded.
    is_planned : bool
    code, digest : str
        Of what computed it and of its numbers.
    data : sequence of str
        Citation of each version that it reads.

    Examples
    --------
    >>> asked = {"table": "scans", "columns": {"animal": "ray"}, "seed": 1}
    >>> found = methods("budget", asked, {"tests": [], "gaps": []}, {}, is_planned=False,
    ...                 code="c0de", digest="d1", data=["Someone (2026). Scans."])
    >>> found.references[0][:14], found.items[0][0]
    ('Altmann, J. (1', '1 Study design')
    """
    opened, keys = _KINDS[kind]
    tests = list(result.get("tests", []))
    used = [*keys, "arrive", *(key for one in tests for key in _TESTS.get(one["name"], ()))]
    drawn = facts.get("drawn")
    sentences = [f"{opened}."]
    sentences += _of_tests(tests, result.get("choice"))
    if drawn:
        sentences.append(
            f"Units were allocated by {drawn['method']}, and analysed in the arm to which they "
            "were allocated."
        )
    sentences += _of_standing(is_planned, request, code, digest)
    sentences.append(f"Data: {'; '.join(one.rstrip('.') for one in data)}.")
    gaps = " ".join(f"{one['what']} {one['why']}" for one in result.get("gaps", []))
    return Methods(
        " ".join(sentences),
        tuple(sorted(REFERENCES[key] for key in dict.fromkeys(used))),
        _items(kind, request, tests, gaps, drawn),
    )


def _of_tests(tests: list[Mapping[str, Any]], choice: Mapping[str, Any] | None) -> list[str]:
    chosen = [one["title"] for one in tests if one["place"] == "chosen"]
    beside = [one["title"] for one in tests if one["place"] == "beside"]
    said = []
    if chosen:
        said.append(f"The test is the {chosen[0]}, two-sided, with 95 % intervals.")
    if beside:
        said.append(f"Beside it stand: {'; '.join(dict.fromkeys(beside))}.")
    if choice and choice.get("assumes"):
        said.append(f"Assumed is: {' '.join(choice['assumes'])}")
    if choice and choice.get("smallest_p"):
        said.append(f"The smallest p that the draw could give is {choice['smallest_p']:.3g}.")
    return said


def _of_standing(is_planned: bool, request: Mapping[str, Any], code: str, digest: str) -> list[str]:
    named = "was named in the plan" if is_planned else "was not named in the plan: exploratory"
    return [
        f"The analysis {named}.",
        (
            f"It was computed by code of digest {code}, seed {request['seed']}; its numbers have "
            f"the SHA-256 {digest[:16]}…."
        ),
    ]


def _items(
    kind: str,
    request: Mapping[str, Any],
    tests: list[Mapping[str, Any]],
    gaps: str,
    drawn: Mapping[str, Any] | None,
) -> tuple[tuple[str, str], ...]:
    columns = request["columns"]
    unit = columns.get("unit") or columns.get("animal") or columns.get("observer") or ""
    outcome = next(
        (columns[one] for one in ("outcome", "mass", "hatched", "time", "behaviour", "zone")
         if columns.get(one)),
        "",
    )  # fmt: skip
    items = [("1 Study design", f"Experimental unit: “{unit}”.")]
    if gaps:
        items.append(("3 Inclusion and exclusion", gaps))
    if drawn:
        items.append(("4 Randomisation", f"By {drawn['method']}."))
    items.append(("6 Outcome measures", f"“{outcome}”, as the dictionary defines it."))
    if tests:
        items.append(("7 Statistical methods", "; ".join(one["title"] for one in tests) + "."))
        items.append(("10 Results", "Effects with 95 % intervals stand in the tables."))
    else:
        items.append(("7 Statistical methods", f"{_KINDS[kind][0]}."))
    return tuple(items)
