"""Behaviour and space as a program makes them again."""

VARIED = '''
def varied(animal, amounts):
    """Keep how varied the behaviour of an animal was."""
    share = np.array([one for one in amounts if one > 0])
    if not len(share):
        return
    share = share / share.sum()
    shannon, kinds = max(0.0, -(share * np.log(share)).sum()), len(share)
    keep("diversity", animal, "", {
        "behaviours": kinds, "Shannon’s H, nats": shannon,
        "evenness": min(1.0, shannon / math.log(kinds)) if kinds > 1 else None,
        "Simpson’s index": 1 - (share**2).sum(),
    })
'''

SHARED = (
    VARIED
    + '''

def shares_over(table, of, names, spent, has_sessions):
    """Keep shares of behaviours; spent is (amounts, all, unseen) of each session of each animal."""
    shares, of_all, at_most = [], [], []
    for animal, own in spent.items():
        amounts = np.sum([one[0] for one in own], axis=0) if own else np.full(len(names), np.nan)
        total = sum(one[1] for one in own) or math.nan
        hidden = sum(one[2] for one in own)
        visible = total - hidden
        shares.append(amounts / visible if visible > 0 else np.full(len(names), np.nan))
        of_all.append(amounts / total)
        at_most.append(of_all[-1] + hidden / total)
        if table != "timed":
            keep("animals", animal, "", dict(zip(names, shares[-1])))
            varied(animal, shares[-1])
    # Sessions drawn again within each animal, by the recorded seed: of these animals alone.
    seen = [[one for one in own if one[1] > one[2]] for own in spent.values()]
    seen = [own for own in seen if own]
    ends = np.full((2, len(names)), np.nan)
    if has_sessions and max(map(len, seen), default=0) > 1:
        chance, means = Chance(), np.zeros((2000, len(names)))
        for own in seen:
            n = len(own)
            picked = chance.below(n, 2000, n) + n * np.arange(2000)[:, None]
            weights = np.bincount(picked.ravel(), minlength=2000 * n).reshape(2000, n)
            visible = weights @ np.array([one[1] - one[2] for one in own])
            means += (weights @ np.array([one[0] for one in own])) / visible[:, None]
        ends = np.quantile(means / len(seen), [0.025, 0.975], axis=0)
    for at, name in enumerate(names):
        _, mean, _, low, high = mean_of([one[at] for one in shares], 0.0, 1.0)
        keep(table, name, "", {
            "share": mean, "from": low, "to": high,
            f"least, of all {of}": mean_of([one[at] for one in of_all])[1],
            f"most, of all {of}": mean_of([one[at] for one in at_most])[1],
            "these animals from": ends[0, at], "these animals to": ends[1, at],
        })
'''
)

BUDGET = """
rows = read(next(iter(ADDRESSES.values())))
unseen = {"out of sight", "out_of_sight", "oos", *OPTIONS.get("unseen", [])}
animals, did = column(rows, "animal"), column(rows, "behaviour")
has_sessions = bool(COLUMNS.get("session"))
sessions = column(rows, "session") if has_sessions else ["all"] * len(rows)
names = [one for one in in_order(did) if one not in unseen]
if not any(one and behaviour for one, behaviour in zip(animals, did)):
    animals = ["(no animal named)"] * len(rows)
order = [None, *in_order(sessions)]
counts = {animal: {} for animal in in_order(animals)}
for animal, session, behaviour in zip(animals, sessions, did):
    if animal and behaviour:
        own = counts[animal].setdefault(session, np.zeros(len(names) + 1))
        own[-1 if behaviour in unseen else names.index(behaviour)] += 1
spent = {animal: [(own[one][:-1], own[one].sum(), own[one][-1]) for one in order if one in own]
         for animal, own in counts.items()}
shares_over("budget", "points", names, spent, has_sessions)

if COLUMNS.get("time"):
    resting = {one.lower() for one in OPTIONS.get("rest") or ("rest", "resting", "sleep")}
    hours = {}
    for when, behaviour in zip(days(column(rows, "time")), did):
        if not math.isnan(when) and behaviour and behaviour not in unseen:
            day, hour = math.floor(when), math.floor((when - math.floor(when)) * 24 + 1e-9)
            hours.setdefault((day, hour), []).append(behaviour.lower() not in resting)
    for (day, hour), active in hours.items():
        cells = {"points": len(active), "share active": np.mean(active)}
        keep("hours", np.datetime64(day, "D"), hour, cells)
"""

SPACE = """
rows = read(next(iter(ADDRESSES.values())))
counted = OPTIONS.get("counts")
if counted:
    sights = [(animal, zone, round(number(row[zone])))
              for animal, row in zip(animals_of(rows), rows)
              for zone in counted if all(number(row[one]) >= 0 for one in counted)]
else:
    sights = [(animal, zone, 1)
              for animal, zone in zip(animals_of(rows), column(rows, "zone"))]
areas = OPTIONS.get("areas") or {zone: 1.0 for _, zone, _ in sights if zone}
ground = sum(areas.values())
seen = {}
for animal, zone, times in sights:
    if animal and zone in areas:
        seen.setdefault(animal, dict.fromkeys(areas, 0))[zone] += times
seen = {animal: own for animal, own in seen.items() if sum(own.values())}
elected = []
for animal, own in seen.items():
    total = sum(own.values())
    expected = {zone: total * area / ground for zone, area in areas.items()}
    apart = sum(abs(own[zone] - expected[zone]) for zone in areas)
    index = apart / (2 * (total - min(expected.values())))
    even = sum(abs(own[zone] - total / len(areas)) for zone in areas)
    keep("animals", animal, "", {
        "spread of participation": index,
        "original, as if zones were equal": even / (2 * (total - total / len(areas))),
    })
    ratio = {zone: own[zone] / area for zone, area in areas.items()}
    weight, even = {zone: one / sum(ratio.values()) for zone, one in ratio.items()}, 1 / len(areas)
    elected.append({zone: (one - even) / (one + even) for zone, one in weight.items()})
for zone in areas:
    _, mean, _, low, high = mean_of([own[zone] / sum(own.values()) for own in seen.values()], 0, 1)
    keep("zones", zone, "", {
        "share of the ground": areas[zone] / ground,
        "sightings": sum(own[zone] for own in seen.values()),
        "share of sightings": mean, "from": low, "to": high,
        "electivity E*": mean_of([one[zone] for one in elected])[1],
    })
"""

ONE_ZERO = """
rows = read(next(iter(ADDRESSES.values())))
unseen = {"out of sight", "out_of_sight", "oos", *OPTIONS.get("unseen", [])}
animals, did, when = (column(rows, one) for one in ("animal", "behaviour", "interval"))
has_sessions = bool(COLUMNS.get("session"))
sessions = column(rows, "session") if has_sessions else ["all"] * len(rows)
names = [one for one in in_order(did) if one not in unseen]
if not any(one and behaviour and at for one, behaviour, at in zip(animals, did, when)):
    animals = ["(no animal named)"] * len(rows)
held = {animal: {} for animal in in_order(animals)}
for animal, session, at, behaviour in zip(animals, sessions, when, did):
    if animal and at and behaviour:
        held[animal].setdefault(session, {}).setdefault(at, set()).add(behaviour)
order = [None, *in_order(sessions)]
spent = {
    animal: [
        (np.array([float(sum(name in one for one in own[session].values())) for name in names]),
         len(own[session]), sum(one <= unseen for one in own[session].values()))
        for session in order if session in own
    ]
    for animal, own in held.items()
}
shares_over("intervals", "intervals", names, spent, has_sessions)
"""

SEQUENCE = '''
def fitted(seen, allowed):
    """What is expected where what follows does not depend on what went before."""
    found, rows, columns = allowed.astype(float), seen.sum(axis=1), seen.sum(axis=0)
    for _ in range(10_000):
        before = found
        for margin, axis in ((rows, 1), (columns, 0)):
            there = found.sum(axis=axis)
            scale = margin / np.where(there > 0, there, 1.0)
            found = found * (scale[:, None] if axis else scale[None, :])
        if np.abs(found - before).max() < 1e-11 * max(1.0, seen.sum()):
            break
    return found


def residuals(seen, expected, allowed):
    """Adjusted residuals, from the leverage of each cell in the log-linear model."""
    cells = np.argwhere(allowed & (expected > 0))
    design = np.zeros((len(cells), sum(seen.shape)))
    design[np.arange(len(cells)), cells[:, 0]] = 1
    design[np.arange(len(cells)), seen.shape[0] + cells[:, 1]] = 1
    weight = expected[tuple(cells.T)]
    inverse = np.linalg.pinv(design.T @ (weight[:, None] * design), hermitian=True)
    left = weight * (1 - weight * np.einsum("ij,jk,ik->i", design, inverse, design))
    free, found = left > 1e-9 * weight, np.full(seen.shape, np.nan)
    apart = (seen - expected)[tuple(cells.T)]
    found[tuple(cells.T)] = np.where(free, apart / np.sqrt(np.where(free, left, 1.0)), np.nan)
    return found


rows = read(next(iter(ADDRESSES.values())))
unseen = {"out of sight", "out_of_sight", "oos", *OPTIONS.get("unseen", [])}
animals, did = animals_of(rows), column(rows, "behaviour")
sessions = column(rows, "session") if COLUMNS.get("session") else ["all"] * len(rows)
when = seconds(rows, "begin") if COLUMNS.get("begin") else np.arange(float(len(rows)))
repeats = OPTIONS.get("repeats", (RECORDED_AS or ["", ""])[1] == "instantaneous")
names = sorted({one for one in did if one} - unseen)
runs = {}
for at in np.argsort(when, kind="stable"):
    if animals[at] and sessions[at] and did[at] and not math.isnan(when[at]):
        runs.setdefault(animals[at], {}).setdefault(sessions[at], []).append(did[at])
tables = {}
for animal in (one for one in in_order(animals) if one in runs):
    table = np.zeros((len(names), len(names)))
    for run in runs[animal].values():
        for first, then in zip(run, run[1:]):
            if first in names and then in names and (repeats or first != then):
                table[names.index(first), names.index(then)] += 1
    tables[animal] = table
    varied(animal, [sum(run.count(one) for run in runs[animal].values()) for one in names])
seen = sum(tables.values())
allowed = np.ones(seen.shape, dtype=bool) if repeats else ~np.eye(len(names), dtype=bool)
expected = fitted(seen, allowed)
adjusted, used = residuals(seen, expected, allowed), allowed & (expected > 0)
chi2 = ((seen - expected)[used] ** 2 / expected[used]).sum()
df = int(used.sum() - used.any(axis=1).sum() - used.any(axis=0).sum() + 1)
keep("independence", "all transitions", "", {
    "number": seen.sum(), "χ²": chi2, "df": max(df, 0),
    "p as if independent": stats.chi2.sf(chi2, df) if df > 0 else None,
})
each = [(one, fitted(one, allowed)) for one in tables.values() if one.any()]
for first, then in np.argwhere(allowed):
    own = [(one[first, then], might[first, then]) for one, might in each if might[first, then] > 0]
    keep("steps", f"{names[first]} → {names[then]}", "", {
        "seen": seen[first, then], "expected": expected[first, then],
        "adjusted residual": adjusted[first, then],
        "animals with more": sum(one - might > 0.001 for one, might in own),
        "of animals that did both": len(own),
    })
'''
