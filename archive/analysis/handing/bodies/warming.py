"""Warmth, rates and responses as a program makes them again."""

WARMTH = '''
rows = read(next(iter(ADDRESSES.values())))
base, low = float(OPTIONS.get("base") or 0.0), numbers(rows, "lowest")
high = numbers(rows, "highest") if COLUMNS.get("highest") else low
day = np.floor(days(column(rows, "time")))
units = column(rows, "unit") if COLUMNS.get("unit") else ["all"] * len(rows)


def warm(least, most):
    """Degree-days of one day above the base, by a single sine between its extremes."""
    mean, half = (least + most) / 2, (most - least) / 2
    if not least < base < most:
        return max(0.0, mean - base)
    at = math.asin((base - mean) / half)
    return ((mean - base) * (math.pi / 2 - at) + half * math.cos(at)) / math.pi


for unit in in_order(units):
    held = {}
    for at in range(len(rows)):
        if units[at] == unit and low[at] <= high[at] and not math.isnan(day[at]):
            least, most = held.get(day[at], (math.inf, -math.inf))
            held[day[at]] = min(least, low[at]), max(most, high[at])
    if not held:
        continue
    each = {one: warm(*held[one]) for one in sorted(held)}
    first, total = min(each), 0.0
    for one, added in each.items():
        total += added
        keep("warming", unit, int(one - first), {"°C days": total})
    keep("warmth", unit, "", {
        "days": len(each), "days missing": max(each) - first + 1 - len(each), "°C days": total,
        "a day": total / len(each), "lowest, °C": min(one for one, _ in held.values()),
        "highest, °C": max(one for _, one in held.values()),
    })
'''

RATES = """
rows = read(next(iter(ADDRESSES.values())))
units, rate, degrees = column(rows, "unit"), numbers(rows, "rate"), numbers(rows, "temperature")
family = column(rows, "family") if COLUMNS.get("family") else [""] * len(rows)
held = {}
for at in range(len(rows)):
    if units[at] and family[at] is not None and rate[at] > 0 and not math.isnan(degrees[at]):
        held.setdefault((units[at], family[at], degrees[at]), []).append(rate[at])
for (unit, _, at), own in held.items():
    keep("rates", f"{unit} at {at:g} °C", "",
         {"temperature, °C": at, "rate": np.mean(own), "rows": len(own)})
keys = list(held)
group = [key[1] for key in keys]
if len({key[0] for key in keys}) < len(keys):
    group = [key[0] for key in keys]
x, y = np.array([key[2] for key in keys]), np.log([np.mean(own) for own in held.values()])
for name in set(group):
    own = np.array([one == name for one in group])
    x[own], y[own] = x[own] - x[own].mean(), y[own] - y[own].mean()
slope, df = x @ y / (x @ x), len(x) - len(set(group)) - 1
half = stats.t.ppf(0.975, df) * math.sqrt(((y - slope * x) ** 2).sum() / df / (x @ x))
keep("test", "q10", TESTS[0]["compared"], {
    "effect": math.exp(10 * slope), "low": math.exp(10 * (slope - half)),
    "high": math.exp(10 * (slope + half)), "units": len(keys),
})
"""

RESPONSE = """
rows = read(next(iter(ADDRESSES.values())))
units, dose, seen, of = column(rows, "unit"), *(
    numbers(rows, one) for one in ("dose", "responded", "of"))
logged = OPTIONS.get("scale") == "logarithm"
held = {}
for at in range(len(rows)):
    if units[at] and not math.isnan(dose[at]) and of[at] > 0 and 0 <= seen[at] <= of[at]:
        x, n = held.get((units[at], dose[at]), (0.0, 0.0))
        held[units[at], dose[at]] = (x + seen[at], n + of[at])
for (unit, at), (x, n) in held.items():
    keep("counts", unit, at, {"responded": x, "of": n, "share": x / n})
for at in {one for _, one in held}:
    own = [two for (_, one), two in held.items() if one == at]
    x, n = (int(sum(one[side] for one in own)) for side in (0, 1))
    ends = stats.binomtest(x, n).proportion_ci(method="exact")
    keep("doses", f"{at:g}", "", {"units": len(own), "responded": x, "of": n, "share": x / n,
                                  "from": ends.low, "to": ends.high})
fitted = [(at, x, n) for (_, at), (x, n) in held.items() if at > 0 or not logged]
at, x, n = (np.array(one) for one in zip(*fitted))
design = np.column_stack([np.ones(len(at)), np.log(at) if logged else at])
beta = np.zeros(2)
for _ in range(100):
    share = special.expit(design @ beta)
    information = design.T @ ((n * share * (1 - share))[:, None] * design)
    step = np.linalg.pinv(information, hermitian=True) @ (design.T @ (x - n * share))
    beta = beta + step
    if np.abs(step).max() < 1e-10 * (1 + np.abs(beta).max()):
        break
df = len(at) - 2
apart = special.xlogy(x, x / (n * share)) + special.xlogy(n - x, (n - x) / (n * (1 - share)))
deviance = 2 * apart.sum()
pearson = ((x - n * share) ** 2 / (n * share * (1 - share))).sum()
inflation = max(1.0, pearson / df) if df > 0 else 1.0
v = inflation * np.linalg.inv(information)
t = stats.t.ppf(0.975, df) if df > 0 else stats.norm.ppf(0.975)
keep("fit", "logistic", "", {
    "deviance": deviance, "df": df, "spread between units over that of counts": inflation})
middle, g = -beta[0] / beta[1], t**2 * v[1, 1] / beta[1] ** 2
told = {"effect": middle}
if g < 1:
    shift = middle + g / (1 - g) * (middle + v[0, 1] / v[1, 1])
    inner = v[0, 0] + 2 * middle * v[0, 1] + middle**2 * v[1, 1]
    inner -= g * (v[0, 0] - v[0, 1] ** 2 / v[1, 1])
    half = t / abs(beta[1]) / (1 - g) * math.sqrt(max(0.0, inner))
    told |= {"low": shift - half, "high": shift + half}
elif logged:
    told |= {"low": -math.inf}
if logged:
    told = {head: math.exp(min(one, math.log(1e300))) for head, one in told.items()}
half = t * math.sqrt(v[1, 1])
figures = {"deviance": deviance, "df": df}
for one in TESTS:
    if one["name"] == "half_dose":
        keep("test", "half_dose", one["compared"], {**told, **figures})
    else:
        keep("test", one["name"], one["compared"],
             {"effect": beta[1], "low": beta[1] - half, "high": beta[1] + half, **figures})
"""
