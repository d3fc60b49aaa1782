"""Cohorts together as a program makes them again."""

COHORTS = """
arms, told_by, strata = None, {}, []
for cohort, address in ADDRESSES.items():
    rows = read(address)
    found, within = compared(
        numbers(rows, "outcome"), column(rows, "unit"), column(rows, "treatment")
    )
    if not found:
        continue
    if arms is None:
        known = sorted({arm for arm, *_ in found.values()})
        control = OPTIONS.get("reference") if OPTIONS.get("reference") in known else known[0]
        others = [one for one in known if one != control]
        arms = (OPTIONS.get("arm") if OPTIONS.get("arm") in others else others[0], control)
    held = [{unit: value for (unit, _), (arm, value, _) in found.items() if arm == one}
            for one in arms]
    both = sorted(held[0].keys() & held[1].keys())
    if len(both) > 1:
        apart = np.array([held[0][unit] - held[1][unit] for unit in both])
        told_by[cohort] = (len(both), apart.mean(), apart.var(ddof=1) / len(apart))
    elif not both and min(map(len, held)) > 1:
        one, other = (np.array(list(values.values())) for values in held)
        n, m = len(one), len(other)
        pooled = ((n - 1) * one.var(ddof=1) + (m - 1) * other.var(ddof=1)) / (n + m - 2)
        told_by[cohort] = (n + m, one.mean() - other.mean(), pooled * (1 / n + 1 / m))
    else:
        continue
    strata += [(f"{cohort}, {unit}" if within else cohort, arm, value)
               for (unit, _), (arm, value, _) in found.items() if arm in arms]

for cohort, (units, effect, _) in told_by.items():
    keep("cohorts", cohort, "", {"units": units, "effect": effect})
y, v = np.array([[effect, variance] for _, effect, variance in told_by.values()]).T


def weighed(tau2):
    w = 1 / (v + tau2)
    return w, (w * y).sum() / w.sum()


def score(tau2):
    '''The slope of the restricted likelihood; it is 0 at its greatest.'''
    w, mu = weighed(tau2)
    return (w**2 * (y - mu) ** 2).sum() - w.sum() + (w**2).sum() / w.sum()


def squares_apart(tau2):
    w, mu = weighed(tau2)
    return (w * (y - mu) ** 2).sum() - (len(y) - 1)


def root(of, top):
    return optimize.brentq(of, 0.0, top, xtol=1e-14) if of(0.0) > 0 else 0.0


if len(y) > 1:
    top = 10 * (y.var() + v.max())
    fixed, middle = weighed(0.0)
    k, said = len(y), f"{arms[0]} minus {arms[1]}"
    q = (fixed * (y - middle) ** 2).sum()
    room = fixed.sum() - (fixed**2).sum() / fixed.sum()
    for name, tau2 in (
        ("pool_dersimonian_laird", max(0.0, (q - (k - 1)) / room)),
        ("pool_paule_mandel", root(squares_apart, top)),
        ("pool", root(score, top)),
    ):
        w, mu = weighed(tau2)
        error = math.sqrt((w * (y - mu) ** 2).sum() / (k - 1) / w.sum())
        half = stats.t.ppf(0.975, k - 1) * error
        told(name, said, effect=mu, low=mu - half, high=mu + half, Q=q,
             p=2 * stats.t.sf(abs(mu / error), k - 1),
             **{"tau²": tau2, "p of Q": stats.chi2.sf(q, k - 1),
                "I²": tau2 / (tau2 + (k - 1) / room)})
        if k > 2:
            reach = stats.t.ppf(0.975, k - 2) * math.sqrt(tau2 + 1 / w.sum())
            told(name, said, **{"next cohort from": mu - reach, "next cohort to": mu + reach})
    for (cohort, (_, effect, variance)), weight in zip(told_by.items(), w / w.sum()):
        alone = stats.norm.ppf(0.975) * math.sqrt(variance)
        keep("cohorts", cohort, "",
             {"from": effect - alone, "to": effect + alone, "weight": weight})
    if any(one["name"] == "by_stratum" for one in TESTS):
        names, of_arm, values = zip(*strata)
        found = two_arms(values, [arm == arms[0] for arm in of_arm], names)
        told("by_stratum", said, **finite(found))
"""
