"""What the paragraphs on methods cite."""

REFERENCES = {
    "altmann": "Altmann, J. (1974). Observational study of behavior: sampling methods. Behaviour, "
    "49, 227–267.",
    "dickens": "Dickens, M. (1955). A statistical formula to quantify the “spread-of-"
    "participation” in group discussion. Speech Monographs, 22, 28–30.",
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
    "haberman": "Haberman, S. J. (1973). The analysis of residuals in cross-classified tables. "
    "Biometrics, 29, 205–220.",
    "bakeman": "Bakeman, R. and Quera, V. (2011). Sequential Analysis and Observational Methods "
    "for the Behavioral Sciences. Cambridge University Press.",
    "shannon": "Shannon, C. E. (1948). A mathematical theory of communication. Bell System "
    "Technical Journal, 27, 379–423.",
    "lorch": "Lorch, R. F. and Myers, J. L. (1990). Regression analyses of repeated measures data "
    "in cognitive research. Journal of Experimental Psychology: Learning, Memory, and Cognition, "
    "16, 149–157.",
    "onghena": "Onghena, P. (1992). Randomization tests for extensions and variations of ABAB "
    "single-case experimental designs. Behavioral Assessment, 14, 153–171.",
    "fulton": "Ricker, W. E. (1975). Computation and interpretation of biological statistics of "
    "fish populations. Bulletin of the Fisheries Research Board of Canada, 191.",
    "lecren": "Le Cren, E. D. (1951). The length-weight relationship and seasonal cycle in gonad "
    "weight and condition in the perch. Journal of Animal Ecology, 20, 201–219.",
    "baskerville": "Baskerville, G. L. and Emin, P. (1969). Rapid estimation of heat accumulation "
    "from maximum and minimum temperatures. Ecology, 50, 514–517.",
    "hoff": "van ’t Hoff, J. H. (1884). Études de dynamique chimique. Frederik Muller.",
    "finney": "Finney, D. J. (1971). Probit Analysis, 3rd ed. Cambridge University Press.",
    "shrout": "Shrout, P. E. and Fleiss, J. L. (1979). Intraclass correlations: uses in assessing "
    "rater reliability. Psychological Bulletin, 86, 420–428.",
    "fleiss": "Fleiss, J. L. (1971). Measuring nominal scale agreement among many raters. "
    "Psychological Bulletin, 76, 378–382.",
    "bernstein": "Bernstein, I. S. (1991). An empirical comparison of focal and ad libitum scoring "
    "with commentary on instantaneous scans, all occurrence and one-zero techniques. Animal "
    "Behaviour, 42, 721–728.",
    "arrive": "Percie du Sert, N. et al. (2020). The ARRIVE guidelines 2.0. PLoS Biology, 18, "
    "e3000410.",
}
"""References by a short key (from memory of the published works)."""
