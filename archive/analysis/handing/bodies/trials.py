"""Comparisons and trials as a program makes them again; the unit that was treated counts once."""

SHARES = '''
def shares_of(units, arms, seen, of):
    """Counts of each unit, and their empirical logits compared."""
    total = {}
    for unit, arm, x, n in zip(units, arms, seen, of):
        if unit and arm and n > 0 and 0 <= x <= n:
            old = total.get(unit, (arm, 0.0, 0.0, 0))
            total[unit] = (old[0], old[1] + x, old[2] + n, old[3] + 1)
    for unit, (arm, x, n, _) in total.items():
        keep("counts", unit, arm, {"counted": x, "of": n, "share": x / n})
    logits = {(unit, ""): (arm, math.log((x + 0.5) / (n - x + 0.5)), rows)
              for unit, (arm, x, n, rows) in total.items()}
    Sides(logits, counts={unit: (x, n) for unit, (_, x, n, _) in total.items()}).tables()
'''

COMPARISON = """
rows = read(next(iter(ADDRESSES.values())))
units, arms = column(rows, "unit"), arms_of(rows)
if COLUMNS.get("of"):
    shares_of(units, arms, numbers(rows, "outcome"), numbers(rows, "of"))
else:
    Sides(*compared(numbers(rows, "outcome"), units, arms)).tables()
"""

GROWTH = """
rows = read(next(iter(ADDRESSES.values())))
units, arms, mass = column(rows, "unit"), arms_of(rows), numbers(rows, "mass")
day = np.floor(days(column(rows, "time")))
there = [at for at in range(len(rows)) if units[at] and arms[at] and not math.isnan(day[at])]
found = {}
for unit in in_order(units[at] for at in there):
    own = [at for at in there if units[at] == unit and mass[at] > 0]
    ends = sorted({day[at] for at in own})
    if len(ends) > 1:
        first, last = (np.mean([mass[at] for at in own if day[at] == end])
                       for end in (ends[0], ends[-1]))
        rate = 100 * math.log(last / first) / (ends[-1] - ends[0])
        found[unit, ""] = (arms[own[0]], rate, 1)
Sides(found).tables()
there = [at for at in there if not math.isnan(mass[at])]
for arm in {arms[at] for at in there}:
    for when in {day[at] for at in there if arms[at] == arm}:
        each = {}
        for at in there:
            if arms[at] == arm and day[at] == when:
                each.setdefault(units[at], []).append(mass[at])
        n, mean, _, low, high = mean_of([np.mean(one) for one in each.values()], 0.0)
        keep("course", arm, when - min(day[at] for at in there),
             {"units": n, "mean mass": mean, "from": low, "to": high})
"""

HATCHING = """
rows = read(next(iter(ADDRESSES.values())))
units, arms = column(rows, "unit"), arms_of(rows)
fertile, hatched = numbers(rows, "fertile"), numbers(rows, "hatched")
laid = numbers(rows, "laid") if COLUMNS.get("laid") else fertile


def wilson(x, n):
    ends = stats.binomtest(int(x), int(n)).proportion_ci(method="wilson")
    return x / n, ends.low, ends.high


for arm in {one for one in arms if one}:
    own = [at for at, one in enumerate(arms)
           if one == arm and not math.isnan(laid[at] + fertile[at] + hatched[at])]
    each = {}
    for at in own:
        x, n, m = each.get(units[at], (0.0, 0.0, 0.0))
        each[units[at]] = (x + hatched[at], n + fertile[at], m + laid[at])
    x, n, m = np.sum(list(each.values()), axis=0)
    over, mean, _, low, high = mean_of([x / n for x, n, _ in each.values() if n], 0.0, 1.0)
    keep("hatching", arm, "", {
        "units": over, "fertile": n, "hatched": x, "mean over units": mean,
        "from, over units": low, "to, over units": high,
        **dict(zip(("share of fertile", "from", "to"), wilson(x, n))),
    })
    if COLUMNS.get("laid"):
        keep("hatching", arm, "",
             dict(zip(("share of laid", "from, of laid", "to, of laid"), wilson(x, m))))
shares_of(units, arms, hatched, fertile)
"""

SURVIVAL = '''
rows = read(next(iter(ADDRESSES.values())))
units, arms, when = column(rows, "unit"), arms_of(rows), numbers(rows, "time")
if COLUMNS.get("happened"):
    said = [(cell or "").lower() in {"true", "yes", "y", "1", "1.0"}
            for cell in column(rows, "happened")]
else:
    said = [not math.isnan(one) for one in when]
own = [at for at, one in enumerate(when) if one >= 0 and units[at] and arms[at]]
t, d = np.array([when[at] for at in own]), np.array([said[at] for at in own], dtype=bool)
arm = np.array([arms[at] for at in own])
for name in {*arm.tolist()}:
    here, it = t[arm == name], d[arm == name]
    left = stats.ecdf(stats.CensoredData(uncensored=here[it], right=here[~it])).sf
    with np.errstate(all="ignore"), warnings.catch_warnings(action="ignore"):
        ends = left.confidence_interval(0.95, method="log-log") if it.any() else None
    for time in np.unique(here[it]):
        share = float(left.evaluate(time))
        low, high = (float(one.evaluate(time)) for one in (ends.low, ends.high))
        keep("curves", name, time, {
            "at risk": (here >= time).sum(), "events": (it & (here == time)).sum(),
            "share left": share,
            "from": low if 0 < share < 1 else share, "to": high if 0 < share < 1 else share,
        })
    half = [time for time in np.unique(here[it]) if left.evaluate(time) <= 0.5 + 1e-12]
    keep("medians", name, "", {"n": len(here), "happened": it.sum(),
                               "median": half[0] if half else None})
at_risk = {time: (t >= time).sum() for time in np.unique(t[d])}
hazard = {time: (d & (t == time)).sum() / risk for time, risk in at_risk.items()}
score = [happened - sum(h for time, h in hazard.items() if time <= at)
         for at, happened in zip(t, d)]
if hazard and len({*arm.tolist()}) > 1:
    Sides(unit_means(score, [units[at] for at in own], arm.tolist())).tables()


def log_rank():
    """Events of each arm less those expected, by their covariance; each animal a unit."""
    names = list(dict.fromkeys(arm.tolist()))
    apart, spread = np.zeros(len(names)), np.zeros((len(names), len(names)))
    for time, risk in at_risk.items():
        deaths = (d & (t == time)).sum()
        share = np.array([((t >= time) & (arm == one)).sum() / risk for one in names])
        seen = np.array([(d & (t == time) & (arm == one)).sum() for one in names])
        apart += seen - deaths * share
        if risk > 1:
            scale = deaths * (risk - deaths) / (risk - 1)
            spread += scale * (np.diag(share) - np.outer(share, share))
    # Arms add up to nothing, so that the last one says no more than the others.
    chi2 = apart[:-1] @ np.linalg.solve(spread[:-1, :-1], apart[:-1])
    df = len(names) - 1
    told("log_rank", "all arms", p=stats.chi2.sf(chi2, df), df=df, **{"χ²": chi2})


if any(one["name"] == "log_rank" for one in TESTS):
    log_rank()
'''

FEEDING = """
rows = read(next(iter(ADDRESSES.values())))
units, arms = column(rows, "unit"), arms_of(rows)
feed, gain = numbers(rows, "feed"), numbers(rows, "gain")
found = {}
for unit in in_order(units[at] for at in range(len(rows)) if arms[at]):
    own = [at for at in range(len(rows)) if units[at] == unit and arms[at]]
    given, won = sum(feed[at] for at in own), sum(gain[at] for at in own)
    if given >= 0 and won > 0:
        found[unit, ""] = (arms[own[0]], given / won, 1)
Sides(found).tables()
"""

CONDITION = """
rows = read(next(iter(ADDRESSES.values())))
units, arms = column(rows, "unit"), arms_of(rows)
mass, length = numbers(rows, "mass"), numbers(rows, "length")
own = [at for at in range(len(rows))
       if units[at] and arms[at] and mass[at] > 0 and length[at] > 0]
Sides(unit_means([100 * mass[at] / length[at] ** 3 for at in own], [units[at] for at in own],
                 [arms[at] for at in own])).tables()
for arm in {arms[at] for at in own}:
    x, y = (np.log([one[at] for at in own if arms[at] == arm]) for one in (length, mass))
    if len(x) < 3 or np.ptp(x) == 0:
        continue
    fit = stats.linregress(x, y)
    half = stats.t.ppf(0.975, len(x) - 2) * fit.stderr
    keep("lines", arm, "", {
        "rows": len(x), "a, g": math.exp(fit.intercept), "exponent b": fit.slope,
        "from": fit.slope - half, "to": fit.slope + half, "R² of logarithms": fit.rvalue**2})
"""
