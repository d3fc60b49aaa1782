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

BUDGET = (
    VARIED
    + """
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
counts = {animal: [own[one] for one in order if one in own] for animal, own in counts.items()}

shares, of_all, at_most = [], [], []
for animal, own in counts.items():
    total = np.sum(own, axis=0) if own else np.full(len(names) + 1, np.nan)
    visible = total[:-1].sum()
    shares.append(total[:-1] / visible if visible > 0 else np.full(len(names), np.nan))
    of_all.append(total[:-1] / total.sum())
    at_most.append(of_all[-1] + total[-1] / total.sum())
    keep("animals", animal, "", dict(zip(names, shares[-1])))
    varied(animal, shares[-1])

# Sessions drawn again within each animal, by the recorded seed: of these animals alone.
seen = [np.array([one for one in own if one[:-1].sum() > 0]) for own in counts.values()]
seen = [own for own in seen if len(own)]
ends = np.full((2, len(names)), np.nan)
if has_sessions and max(map(len, seen), default=0) > 1:
    chance, means = Chance(), np.zeros((2000, len(names)))
    for own in seen:
        picked = chance.below(len(own), 2000, len(own)) + len(own) * np.arange(2000)[:, None]
        weights = np.bincount(picked.ravel(), minlength=2000 * len(own)).reshape(2000, len(own))
        amounts = weights @ own[:, :-1]
        means += amounts / amounts.sum(axis=1)[:, None]
    ends = np.quantile(means / len(seen), [0.025, 0.975], axis=0)
for at, name in enumerate(names):
    _, mean, _, low, high = mean_of([one[at] for one in shares], 0.0, 1.0)
    keep("budget", name, "", {
        "share": mean, "from": low, "to": high,
        "least, of all points": mean_of([one[at] for one in of_all])[1],
        "most, of all points": mean_of([one[at] for one in at_most])[1],
        "these animals from": ends[0, at], "these animals to": ends[1, at],
    })

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
)

SPACE = """
rows = read(next(iter(ADDRESSES.values())))
counted = OPTIONS.get("counts")
if counted:
    sights = [(row[COLUMNS["animal"]], zone, round(number(row[zone]))) for row in rows
              for zone in counted if all(number(row[one]) >= 0 for one in counted)]
else:
    sights = [(animal, zone, 1)
              for animal, zone in zip(column(rows, "animal"), column(rows, "zone"))]
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
    keep("animals", animal, "", {"spread of participation": index})
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
