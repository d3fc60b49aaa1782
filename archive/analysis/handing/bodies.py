"""The parts of the programs that are handed over: reading, the sums of each kind, comparing."""

HEAD = (
    """import csv
import io
import json
import math
import os
import sys
import urllib.request

import numpy as np
from scipy import special, stats
""",
    '''
def fetch(address):
    """Read one address; the token, where one is set, opens data that are not open."""
    asked = urllib.request.Request(address)
    token = os.environ.get("STRANDLINE_TOKEN")
    if token:
        asked.add_header("Authorization", "Token " + token)
    with urllib.request.urlopen(asked) as answer:
        return answer.read()


def read(address):
    """Give the rows of the table as dictionaries; an empty cell is None."""
    package = json.loads(fetch(address))
    resource = next(one for one in package["resources"] if one["name"] == TABLE)
    schema = resource["schema"]
    own = {field["name"]: field.get("missingValues") for field in schema["fields"]}
    text = fetch(address.rsplit("/", 1)[0] + "/" + resource["path"]).decode("utf-8-sig")
    dialect = resource.get("dialect") or {}
    rows = []
    for row in csv.DictReader(io.StringIO(text), delimiter=dialect.get("delimiter", ",")):
        kept = {}
        for name, cell in row.items():
            missing = own.get(name) or schema.get("missingValues", [""])
            words = [one["value"] if isinstance(one, dict) else one for one in missing]
            kept[name] = None if cell is None or cell in words else cell.strip() or None
        rows.append(kept)
    return rows


def number(cell):
    return float("nan") if cell is None else float(cell)


def column(rows, slot):
    return [row[COLUMNS[slot]] for row in rows]


def numbers(rows, slot):
    return np.array([number(cell) for cell in column(rows, slot)])


def mean_of(values, least=-math.inf, most=math.inf):
    """Mean over units with its t interval."""
    kept = np.array([one for one in values if not math.isnan(one)])
    n = len(kept)
    if n < 2:
        return n, float(kept[0]) if n else float("nan"), None, None, None
    half = stats.t.ppf(0.975, n - 1) * kept.std(ddof=1) / math.sqrt(n)
    middle = kept.mean()
    return n, middle, kept.std(ddof=1), max(least, middle - half), min(most, middle + half)


def arms_of(rows):
    """The arm of each row: as the table says, and in the end as units were allocated."""
    units = column(rows, "unit")
    said = column(rows, "treatment") if COLUMNS.get("treatment") else [None] * len(rows)
    told = {arm for arm in said if arm}
    if ALLOCATED and (not told or told <= set(ALLOCATED.values())):
        return [ALLOCATED.get(unit, arm) for unit, arm in zip(units, said)]
    return said


def unit_means(values, units, arms, within=False):
    """One mean for each unit, or for each unit in each arm."""
    found = {}
    for value, unit, arm in zip(values, units, arms):
        if unit and arm and not math.isnan(value):
            found.setdefault((unit, arm if within else ""), (arm, []))[1].append(value)
    return {key: (arm, float(np.mean(one)), len(one)) for key, (arm, one) in found.items()}


MADE = {}


def arm_tables(units):
    """Make the tables of units and of arms, and what the arms hold."""
    held = {}
    for (unit, _), (arm, value, n) in units.items():
        MADE["units", unit, arm, "mean"] = value
        held.setdefault(arm, []).append((unit, value))
    for arm, pairs in held.items():
        n, mean, sd, low, high = mean_of([value for _, value in pairs])
        for head, value in zip(("units", "mean", "standard deviation", "from", "to"),
                               (n, mean, sd, low, high)):
            MADE["arms", arm, "", head] = value
    return {arm: [value for _, value in sorted(pairs)] for arm, pairs in held.items()}


def tests(held, counts=None, logits=False):
    """Make the tests again that numpy and scipy know."""
    for one in TESTS:
        name, compared = one["name"], one["compared"]
        both = compared.split(" less ") if " less " in compared else compared.split(" with ")
        if name in {"unit_t", "welch_t", "logit_t"} and len(both) == 2:
            done = stats.ttest_ind(held[both[0]], held[both[1]], equal_var=name != "welch_t")
            ends = done.confidence_interval(0.95)
            effect = np.mean(held[both[0]]) - np.mean(held[both[1]])
            keep(name, compared, effect, ends.low, ends.high, done.pvalue)
        elif name == "paired_t":
            done = stats.ttest_rel(held[both[0]], held[both[1]])
            ends = done.confidence_interval(0.95)
            effect = np.mean(held[both[0]]) - np.mean(held[both[1]])
            keep(name, compared, effect, ends.low, ends.high, done.pvalue)
        elif name == "unit_f":
            keep(name, compared, None, None, None, stats.f_oneway(*held.values()).pvalue)
        elif name == "rank_sum" and len(set(sum(held.values(), []))) == len(sum(held.values(), [])):
            done = stats.mannwhitneyu(held[both[0]], held[both[1]], method="exact")
            keep(name, compared, None, None, None, done.pvalue)
        elif name == "quasi_binomial" and counts:
            keep(name, compared, *quasi(counts[both[0]], counts[both[1]]))


def quasi(one, other):
    """Pooled log odds with Pearson's spread between units, by t."""
    logits, variance, pearson, n = [], 0.0, 0.0, 0
    for x, of in (one, other):
        total = of.sum()
        share = min(max(x.sum() / total, 0.5 / total), 1 - 0.5 / total)
        pearson += ((x - of * share) ** 2 / (of * share * (1 - share))).sum()
        variance += 1 / (total * share * (1 - share))
        logits.append(special.logit(share))
        n += len(of)
    error = math.sqrt(max(1.0, pearson / (n - 2)) * variance)
    effect, half = logits[0] - logits[1], stats.t.ppf(0.975, n - 2) * error
    return effect, effect - half, effect + half, 2 * stats.t.sf(abs(effect / error), n - 2)


def keep(name, compared, effect, low, high, p):
    for head, value in zip(("effect", "low", "high", "p"), (effect, low, high, p)):
        if value is not None:
            MADE["test", name, compared, head] = float(value)
''',
)

_COMPARISON = """
rows = read(next(iter(ADDRESSES.values())))
units, arms = column(rows, "unit"), arms_of(rows)
if COLUMNS.get("of"):
    seen, of = numbers(rows, "outcome"), numbers(rows, "of")
    shares_of(units, arms, seen, of)
else:
    values = numbers(rows, "outcome")
    in_arms = {}
    for unit, arm, value in zip(units, arms, values):
        in_arms.setdefault(unit, set()).add(arm)
    within = any(len(one) > 1 for one in in_arms.values())
    found = unit_means(values, units, arms, within)
    if within:
        every = {arm for arm, *_ in found.values()}
        whole = {unit for unit, _ in found if {arm for u, arm in found if u == unit} == every}
        found = {key: one for key, one in found.items() if key[0] in whole}
    tests(arm_tables(found))
"""

_SHARES = '''
def shares_of(units, arms, seen, of):
    """Counts of each unit, and their empirical logits compared."""
    total = {}
    for unit, arm, x, n in zip(units, arms, seen, of):
        if unit and arm and n > 0 and 0 <= x <= n:
            old = total.get(unit, (arm, 0.0, 0.0))
            total[unit] = (arm, old[1] + x, old[2] + n)
    for unit, (arm, x, n) in total.items():
        MADE["counts", unit, arm, "share"] = x / n
    logits = {
        (unit, ""): (arm, math.log((x + 0.5) / (n - x + 0.5)), 1)
        for unit, (arm, x, n) in total.items()
    }
    counts = {}
    for arm in {one[0] for one in total.values()}:
        own = [one for one in total.values() if one[0] == arm]
        counts[arm] = (np.array([one[1] for one in own]), np.array([one[2] for one in own]))
    tests(arm_tables(logits), counts)

'''

BODIES: dict[str, str] = {
    "comparison": _SHARES + _COMPARISON,
    "growth": """
rows = read(next(iter(ADDRESSES.values())))
units, arms, mass = column(rows, "unit"), arms_of(rows), numbers(rows, "mass")
days = [cell and np.datetime64(cell[:10], "D").astype(int) for cell in column(rows, "time")]
found = {}
for unit in dict.fromkeys(units):
    own = [at for at, one in enumerate(units)
           if one == unit and unit and arms[at] and days[at] is not None and mass[at] > 0]
    when = sorted({days[at] for at in own})
    if len(when) > 1:
        first, last = (np.mean([mass[at] for at in own if days[at] == end])
                       for end in (when[0], when[-1]))
        rate = 100 * math.log(last / first) / (when[-1] - when[0])
        found[unit, ""] = (arms[own[0]], rate, 1)
tests(arm_tables(found))
""",
    "hatching": _SHARES
    + """
rows = read(next(iter(ADDRESSES.values())))
units, arms = column(rows, "unit"), arms_of(rows)
fertile, hatched = numbers(rows, "fertile"), numbers(rows, "hatched")
for arm in {one for one in arms if one}:
    own = [at for at, one in enumerate(arms)
           if one == arm and not math.isnan(fertile[at] + hatched[at])]
    x, n = sum(hatched[at] for at in own), sum(fertile[at] for at in own)
    ends = stats.binomtest(int(x), int(n)).proportion_ci(method="wilson")
    for head, value in zip(("fertile", "hatched", "share of fertile", "from", "to"),
                           (n, x, x / n, ends.low, ends.high)):
        MADE["hatching", arm, "", head] = value
shares_of(units, arms, hatched, fertile)
""",
    "survival": """
rows = read(next(iter(ADDRESSES.values())))
units, arms, when = column(rows, "unit"), arms_of(rows), numbers(rows, "time")
if COLUMNS.get("happened"):
    said = [(cell or "").lower() in {"true", "yes", "y", "1", "1.0"}
            for cell in column(rows, "happened")]
else:
    said = [not math.isnan(one) for one in when]
own = [at for at, one in enumerate(when) if one >= 0 and units[at] and arms[at]]
for arm in {arms[at] for at in own}:
    here = [at for at in own if arms[at] == arm]
    data = stats.CensoredData(
        uncensored=[when[at] for at in here if said[at]],
        right=[when[at] for at in here if not said[at]],
    )
    left = stats.ecdf(data).sf
    for time in sorted({when[at] for at in here if said[at]}):
        MADE["curves", arm, f"{time:.10g}", "share left"] = float(left.evaluate(time))
    MADE["medians", arm, "", "n"] = len(here)
    MADE["medians", arm, "", "median"] = next(
        (time for time in sorted({when[at] for at in here if said[at]})
         if left.evaluate(time) <= 0.5 + 1e-12),
        None,
    )
    MADE["medians", arm, "", "happened"] = sum(said[at] for at in here)
""",
    "budget": """
rows = read(next(iter(ADDRESSES.values())))
unseen = {"out of sight", "out_of_sight", "oos", *OPTIONS.get("unseen", [])}
seen = {}
for animal, behaviour in zip(column(rows, "animal"), column(rows, "behaviour")):
    if animal and behaviour:
        own = seen.setdefault(animal, {})
        own[behaviour] = own.get(behaviour, 0) + 1
names = {name for own in seen.values() for name in own} - unseen
for name in names:
    shares, all_ = [], []
    for animal, own in seen.items():
        total = sum(own.values())
        visible = total - sum(own.get(one, 0) for one in unseen)
        shares.append(own.get(name, 0) / visible if visible else float("nan"))
        all_.append(own.get(name, 0) / total)
        MADE["animals", animal, "", name] = shares[-1]
    n, mean, sd, low, high = mean_of(shares, 0.0, 1.0)
    for head, value in zip(("share", "from", "to", "least, of all points"),
                           (mean, low, high, mean_of(all_)[1])):
        MADE["budget", name, "", head] = value
""",
    "space": """
rows = read(next(iter(ADDRESSES.values())))
counted = OPTIONS.get("counts")
if counted:
    sights = [(row[COLUMNS["animal"]], zone, number(row[zone])) for row in rows
              for zone in counted if all(number(row[one]) >= 0 for one in counted)]
else:
    sights = [(row[COLUMNS["animal"]], row[COLUMNS["zone"]], 1) for row in rows]
areas = OPTIONS.get("areas") or {zone: 1.0 for _, zone, _ in sights if zone}
ground = sum(areas.values())
seen = {}
for animal, zone, times in sights:
    if animal and zone in areas:
        seen.setdefault(animal, dict.fromkeys(areas, 0))[zone] += times
for animal, own in seen.items():
    total = sum(own.values())
    expected = {zone: total * area / ground for zone, area in areas.items()}
    apart = sum(abs(own[zone] - expected[zone]) for zone in areas)
    index = apart / (2 * (total - min(expected.values())))
    MADE["animals", animal, "", "spread of participation"] = index
for zone in areas:
    n, mean, sd, low, high = mean_of([own[zone] / sum(own.values()) for own in seen.values()], 0, 1)
    for head, value in zip(("share of sightings", "from", "to"), (mean, low, high)):
        MADE["zones", zone, "", head] = value
""",
    "agreement": """
rows = read(next(iter(ADDRESSES.values())))
coded = {}
for moment, observer, code in zip(
    column(rows, "moment"), column(rows, "observer"), column(rows, "behaviour")
):
    if moment and observer and code:
        coded.setdefault(observer, {})[moment] = code
names = list(coded)
for at, one in enumerate(names):
    for other in names[at + 1 :]:
        both = coded[one].keys() & coded[other].keys()
        if not both:
            continue
        same = sum(coded[one][m] == coded[other][m] for m in both) / len(both)
        codes = {c for who in (one, other) for c in coded[who].values()}
        chance = sum(
            sum(coded[one][m] == c for m in both) * sum(coded[other][m] == c for m in both)
            for c in codes
        ) / len(both) ** 2
        pair = f"{one} and {other}"
        MADE["pairs", pair, "", "moments"] = len(both)
        MADE["pairs", pair, "", "coded alike"] = same
        if chance < 1:
            MADE["pairs", pair, "", "kappa"] = (same - chance) / (1 - chance)
""",
    "cohorts": """
effects, variances, names = [], [], []
treated, control = TESTS[0]["compared"].split(" less ") if TESTS else (None, None)
for name, address in ADDRESSES.items():
    rows = read(address)
    found = unit_means(
        numbers(rows, "outcome"), column(rows, "unit"), column(rows, "treatment"), True
    )
    held = {treated: {}, control: {}}
    for (unit, _), (arm, value, n) in found.items():
        held.setdefault(arm, {})[unit] = value
    both = held[treated].keys() & held[control].keys()
    if len(both) > 1:
        every = [unit for unit in both if all(unit in one for one in held.values())]
        apart = np.array([held[treated][unit] - held[control][unit] for unit in every])
        names.append(name)
        effects.append(apart.mean())
        variances.append(apart.var(ddof=1) / len(apart))
        continue
    if min(len(held[treated]), len(held[control])) < 2:
        continue
    one, other = (np.array(list(held[arm].values())) for arm in (treated, control))
    n, m = len(one), len(other)
    pooled = ((n - 1) * one.var(ddof=1) + (m - 1) * other.var(ddof=1)) / (n + m - 2)
    names.append(name)
    effects.append(one.mean() - other.mean())
    variances.append(pooled * (1 / n + 1 / m))
y, v = np.array(effects), np.array(variances)
for name, effect in zip(names, effects):
    MADE["cohorts", name, "", "effect"] = effect
if len(y) > 1:
    def unlikely(tau2):
        w = 1 / (v + tau2)
        mu = (w * y).sum() / w.sum()
        return 0.5 * (np.log(v + tau2).sum() + math.log(w.sum()) + (w * (y - mu) ** 2).sum())

    from scipy import optimize

    top = 10 * (y.var() + v.max())
    best = optimize.minimize_scalar(unlikely, bounds=(0, top), method="bounded",
                                    options={"xatol": 1e-12})
    tau2 = 0.0 if unlikely(0.0) <= best.fun else best.x
    w = 1 / (v + tau2)
    mu = (w * y).sum() / w.sum()
    error = math.sqrt((w * (y - mu) ** 2).sum() / (len(y) - 1) / w.sum())
    half = stats.t.ppf(0.975, len(y) - 1) * error
    p = 2 * stats.t.sf(abs(mu / error), len(y) - 1)
    keep("pool", TESTS[0]["compared"], mu, mu - half, mu + half, p)
""",
}
"""The sums of each kind of analysis, in numpy and scipy alone."""

TAIL = """
RECORDED = {}
for table, one in TABLES.items():
    heads = one["heads"]
    for row in one["rows"]:
        arm = row[heads.index("arm")] if "arm" in heads[1:] else ""
        key = f"{row[1]:.10g}" if table == "curves" else arm
        for head, value in zip(heads[1:], row[1:]):
            if isinstance(value, (int, float)):
                RECORDED[table, str(row[0]), key, head] = value
for one in TESTS:
    for head in ("effect", "low", "high", "p"):
        if one[head] is not None:
            RECORDED["test", one["name"], one["compared"], head] = one[head]
alike, other = 0, []
for key, value in MADE.items():
    if key in RECORDED and value is not None:
        if math.isclose(value, RECORDED[key], rel_tol=1e-5, abs_tol=1e-8):
            alike += 1
        else:
            other.append((key, value, RECORDED[key]))
print(alike, "numbers are as recorded;", len(other), "are not;",
      len(RECORDED) - alike - len(other), "were not made again here.")
for key, value, recorded in other:
    print(*key, value, "recorded:", recorded)
if other or not alike:
    sys.exit(1)
"""
