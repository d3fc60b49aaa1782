"""Continuous records as a program makes them again: sessions, bouts, and scans of them."""

BOUTS = '''
rows = read(next(iter(ADDRESSES.values())))
unseen = {"out of sight", "out_of_sight", "oos", *OPTIONS.get("unseen", [])}
animals, did = animals_of(rows), column(rows, "behaviour")
sessions = column(rows, "session") if COLUMNS.get("session") else ["all"] * len(rows)
begin = seconds(rows, "begin")
end = seconds(rows, "end") if COLUMNS.get("end") else begin
opens = np.zeros(len(rows))
if COLUMNS.get("opened"):
    opens = seconds(rows, "opened")
elif is_clock(rows, "begin"):
    opens = begin
minutes = float(OPTIONS.get("minutes") or 0)
if COLUMNS.get("closed"):
    closes = seconds(rows, "closed")
elif minutes > 0 and (COLUMNS.get("opened") or not is_clock(rows, "begin")):
    closes = opens + 60 * minutes
else:
    closes = np.fmax(begin, end)
acts = [tuple(one) for one in ACTS if one[0] not in unseen]
if not ACTS:
    lasting = {did[at] for at in range(len(rows)) if end[at] > begin[at]}
    acts = [(one, "state" if one in lasting else "event", "states")
            for one in in_order(did) if one not in unseen]
codes = [one[0] for one in acts]
states = [one[1] != "event" for one in acts]
sets = {}
for at, (code, kind, exclusive) in enumerate(acts):
    if kind != "event":
        sets.setdefault(exclusive or f"only {code}", []).append(at)


def watch(own):
    """Length and rows of one session of an animal, (place of the behaviour, begin, end)."""
    first = np.fmin.reduce([opens[at] for at in own])
    length = np.fmax.reduce([closes[at] for at in own]) - first
    if not (math.isfinite(length) and length > 0):
        return None
    found = []
    for at in own:
        place = codes.index(did[at]) if did[at] in codes else -1 if did[at] in unseen else None
        if place is not None:
            lasts = place < 0 or states[place]
            begins = begin[at] - first
            found.append((place, begins, end[at] - first if lasts else begins))
    found.sort(key=lambda one: one[1])
    return (length, found) if is_whole(length, found) else None


def is_whole(length, found):
    """Whether times hold together: within the session, in order, no two at once that cannot be."""
    for place, one, other in found:
        if not math.isfinite(one + other) or one < -1e-6 or other > length + 1e-6:
            return False
        if (place < 0 or states[place]) and other <= one:
            return False
    for own in sets.values() or [[]]:
        line = [one for one in found if one[0] in own or one[0] < 0]
        if any(then[1] < first[2] - 1e-6 for first, then in zip(line, line[1:])):
            return False
    return True


grouped = {}
for at in range(len(rows)):
    if animals[at] and sessions[at]:
        grouped.setdefault(animals[at], {}).setdefault(sessions[at], []).append(at)
watches = {}
for animal in in_order(animals):
    own = grouped.get(animal, {})
    watches[animal] = [one for session in in_order(sessions) if session in own
                       if (one := watch(own[session])) is not None]


def added(one, what):
    """Seconds or number of each behaviour in one session, out of sight last."""
    found = np.zeros(len(codes) + 1)
    for place, first, last in one[1]:
        found[place] += (last - first if place < 0 or states[place] else 0.0) if what else 1
    return found
'''

ACTED = """
gives = (RECORDED_AS or ["focal", "continuous"])[0] != "behaviour"
time = {animal: [added(one, True) for one in own] for animal, own in watches.items()}
number = {animal: [added(one, False) for one in own] for animal, own in watches.items()}
hours, latencies, cut = {}, {}, np.zeros(len(codes))
for animal, own in watches.items():
    hours[animal] = sum(one[0] - spent[-1] for one, spent in zip(own, time[animal])) / 3600
    for length, found in own:
        hides = [one[1] for one in found if one[0] < 0]
        for place, _, last in found:
            if place >= 0 and states[place]:
                # Cut short: by the end of the session, or by what hid the animal as it ended.
                goes = any(-1e-6 <= one - last <= 1e-6 for one in hides)
                cut[place] += last >= length - 1e-6 or goes
none = math.nan
for at, code in enumerate(codes):
    counted = {a: sum(one[at] for one in own) for a, own in number.items()}
    firsts = {a: [min(b for p, b, _ in one[1] if p == at) for one in own
                  if any(p == at for p, _, _ in one[1])] for a, own in watches.items()}
    rate = mean_of([counted[a] / hours[a] if hours[a] else none for a in watches], 0.0)
    bout = mean_of([sum(one[at] for one in time[a]) / counted[a] if counted[a] else none
                    for a in watches], 0.0)
    late = mean_of([np.mean(one) if one else none for one in firsts.values()], 0.0)
    told_of = {"number": sum(counted.values()), "times an hour": rate[1], "from": rate[3],
               "to": rate[4]}
    if states[at]:
        told_of["cut short"] = cut[at]
        if gives:
            told_of |= {"length of a bout, s": bout[1], "length from": bout[3],
                        "length to": bout[4]}
    if gives:
        told_of |= {"latency, s": late[1], "latency from": late[3], "latency to": late[4]}
    told_of["sessions without"] = (sum(map(len, watches.values()))
                                   - sum(map(len, firsts.values())))
    keep("acts", code, "", told_of)
    for animal, own in watches.items():
        seen = 3600 * hours[animal]
        keep("each", f"{animal}, {code}", "", {
            "sessions": len(own), "visible, s": seen, "number": counted[animal],
            "times an hour": counted[animal] / hours[animal] if seen else None,
            "share of time": sum(one[at] for one in time[animal]) / seen
            if gives and states[at] and seen else None,
        })
if gives:
    is_state = np.array([*states, False])
    spent = {a: [(s[is_state], one[0], s[-1]) for one, s in zip(own, time[a])]
             for a, own in watches.items()}
    names = [code for code, is_one in zip(codes, states) if is_one]
    shares_over("timed", "time", names, spent, True)
    for animal, own in spent.items():
        varied(animal, np.sum([one[0] for one in own], axis=0) if own else [])
"""

INTERVAL = """
named = OPTIONS.get("target")
asked = [float(one) for one in OPTIONS.get("every") or (15, 30, 60, 120, 300)]
for state in [named] if named else [code for code, is_one in zip(codes, states) if is_one]:
    lines = [(animal, length, [(b, e) for p, b, e in found if p >= 0 and codes[p] == state])
             for animal, own in watches.items() for length, found in own]
    lasted = [e - b for _, _, line in lines for b, e in line]
    if not lasted:
        continue

    def by_animal(values):
        held = {}
        for (animal, _, _), value in zip(lines, values):
            held.setdefault(animal, []).append(value)
        return np.array([np.mean(one) for one in held.values()])

    true = by_animal([sum(e - b for b, e in line) / length for _, length, line in lines])
    half = None
    if len(true) > 1:
        half = stats.t.ppf(0.975, len(true) - 1) * true.std(ddof=1) / math.sqrt(len(true))
    rule = np.mean(lasted) + 1.96 * np.std(lasted, ddof=1) if len(lasted) > 1 else None
    for every in (one for one in asked if one <= min(length for _, length, _ in lines)):
        scanned = []
        for _, length, line in lines:
            begins = (np.arange(200) + 0.5) * every / 200
            times = begins[:, None] + np.arange(int(length // every) + 1) * every
            edges = np.array([edge for bout in line for edge in bout])
            inside = np.searchsorted(edges, times, side="right") % 2 == 1
            is_there = times < length
            scanned.append((inside & is_there).sum(axis=1) / is_there.sum(axis=1))
        errors = [by_animal(one).mean() - true.mean() for one in np.array(scanned).T]
        keep("tried", f"{state}, every {every:g} s", "", {
            "share of time": true.mean(), "bias": np.mean(errors),
            "error": math.sqrt(np.mean(np.square(errors))),
            "share of bouts missed": np.mean([max(0.0, 1 - one / every) for one in lasted]),
            "half of the interval over animals": half,
            "scans independent beyond, s": rule,
        })
"""
