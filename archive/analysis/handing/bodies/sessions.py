"""Sessions of animals as a program makes them again: covariates, and phases within animals."""

ALONG = '''
rows = read(next(iter(ADDRESSES.values())))
animals, sessions, of = animals_of(rows), column(rows, "session"), numbers(rows, "covariate")
if COLUMNS.get("outcome") and not (OPTIONS.get("target") and COLUMNS.get("behaviour")):
    values, said = numbers(rows, "outcome"), COLUMNS["outcome"]
else:
    unseen = {"out of sight", "out_of_sight", "oos", *OPTIONS.get("unseen", [])}
    target, did = OPTIONS["target"], column(rows, "behaviour")
    values = np.array([math.nan if one is None or one in unseen else float(one == target)
                       for one in did])
    said = f"share of “{target}”"
plain_one = OPTIONS.get("sound") if OPTIONS.get("sound") in {"air", "water"} else ""
media = [plain_one] * len(rows)
if COLUMNS.get("medium"):
    media = [(one or "").lower() for one in column(rows, "medium")]


def line(x, y):
    """Slope, its error's half width, degrees of freedom and p."""
    apart, df = x - x.mean(), len(x) - 2
    slope = apart @ y / (apart @ apart)
    left = y - y.mean() - slope * apart
    error = math.sqrt(left @ left / df / (apart @ apart))
    p = 2 * stats.t.sf(abs(slope / error), df) if error > 0 else None
    return slope, stats.t.ppf(0.975, df) * error, df, p


for medium in {"air", "water", ""} & set(media):
    if COLUMNS.get("medium") and not medium:
        continue
    held, end = {}, f"_{medium}" if medium else ""
    for at in range(len(rows)):
        if (animals[at] and sessions[at] and media[at] == medium
                and not math.isnan(values[at] + of[at])):
            held.setdefault((animals[at], sessions[at]), []).append((values[at], of[at]))
    order = {name: at for at, name in enumerate([*in_order(animals), *in_order(sessions)])}
    each = []
    for animal, session in sorted(held, key=lambda one: (order[one[0]], order[one[1]])):
        y, x = np.array(held[animal, session]).T
        if medium:
            x = special.logsumexp(x * math.log(10) / 10, b=1 / len(x)) * 10 / math.log(10)
        each.append((animal, session, y.mean(), np.mean(x)))
        how = ", mean level by energy" if medium else ", mean"
        keep(f"sessions{end}", f"{animal}, {session}", "",
             {said: y.mean(), COLUMNS["covariate"] + how: np.mean(x)})
    if not each:
        continue
    slopes = {}
    for animal in dict.fromkeys(one[0] for one in each):
        y, x = np.array([one[2:] for one in each if one[0] == animal]).T
        if len(x) > 2 and np.ptp(x) > 0:
            apart = x - x.mean()
            slopes[animal] = apart @ y / (apart @ apart)
            keep(f"slopes{end}", animal, "", {"slope": slopes[animal]})
    compared = f"{said} by {COLUMNS['covariate']}" + (f" in {medium}" if medium else "")
    n, mean, sd, low, high = mean_of(slopes.values())
    p = 2 * stats.t.sf(abs(mean) / (sd / math.sqrt(n)), n - 1) if sd else None
    keep("test", "slopes_t", compared,
         {"effect": mean, "low": low, "high": high, "p": p, "animals": n})
    if any(one["name"] == "sessions_t" and one["compared"] == compared for one in TESTS):
        level = {a: np.mean([y for b, _, y, _ in each if b == a]) for a, *_ in each}
        middle, over = np.mean([one[2] for one in each]), {}
        for animal, session, y, x in each:
            over.setdefault(session, []).append((y - level[animal] + middle, x))
        y, x = np.array([np.mean(one, axis=0) for one in over.values()]).T
        slope, half, df, p = line(x, y)
        keep("test", "sessions_t", compared, {"effect": slope, "low": slope - half,
             "high": slope + half, "p": p, "df": df, "sessions": df + 2})
'''

REVERSAL = '''
rows = read(next(iter(ADDRESSES.values())))
animals, phases, values = animals_of(rows), column(rows, "phase"), numbers(rows, "outcome")
order = column(rows, "order")
try:
    rank = np.array([number(one) for one in order])
except ValueError:
    known = sorted(in_order(order))
    rank = np.array([math.nan if one is None else known.index(one) for one in order])
held = {}
for at in range(len(rows)):
    if animals[at] and phases[at] and not math.isnan(values[at] + rank[at]):
        own = held.setdefault(animals[at], {}).setdefault(rank[at], (phases[at], []))
        own[1].append((values[at], phases[at]))
watches = {}
for animal, own in held.items():
    if all(phase == first for first, each in own.values() for _, phase in each):
        watches[animal] = [(own[one][0], np.mean([v for v, _ in own[one][1]]))
                           for one in sorted(own)]
known = sorted({phase for own in watches.values() for phase, _ in own})
control = OPTIONS.get("reference") if OPTIONS.get("reference") in known else known[0]
treated = next(one for one in known if one != control)
said, compared = COLUMNS["outcome"], f"{treated} minus {control}"


def runs(own):
    """Stretches of one phase: its name and its values."""
    found = []
    for phase, value in own:
        if not found or found[-1][0] != phase:
            found.append((phase, []))
        found[-1][1].append(value)
    return found


watches = {animal: own for animal, own in watches.items() if len(runs(own)) > 1}
both = []
for animal, own in watches.items():
    one, other = (np.mean([v for p, v in own if p == phase]) for phase in (treated, control))
    both.append((one, other))
    keep("animals", animal, "",
         {"sessions": len(own), treated: one, control: other, "difference": one - other})
    for at, (_, value) in enumerate(own, 1):
        keep("phases", animal, at, {said: value})


given = {one[0]: tuple(one[3]) for one in (DRAWN or {}).get("places", []) if one[3]}
has_changes = bool(DRAWN) and DRAWN["method"] == "phases with drawn changes"
shortest = int((DRAWN["given"].get("shortest", 3) if has_changes else OPTIONS.get("shortest")) or 0)
if has_changes:
    # Each session counts under the treatment that was drawn for it.
    watches = {animal: list(zip(given[animal], [value for _, value in own]))
               for animal, own in watches.items() if len(given.get(animal, ())) == len(own)}


def places(sessions, changes):
    """Every admissible place of the changes of phase."""
    free = sessions - shortest * (changes + 1)
    for chosen in itertools.combinations(range(free + changes), changes):
        yield [one - at + shortest * (at + 1) for at, one in enumerate(chosen)]


def changed(own):
    """Differences of means, and of the treatment itself, at every place; the actual ones."""
    stretches = runs(own)
    y = np.array([value for _, value in own])
    is_on = np.array([phase == treated for phase, _ in own], dtype=float)
    columns = np.column_stack([y, is_on])
    letters = [phase == treated for phase, _ in stretches]
    actual = np.cumsum([len(one) for _, one in stretches])[:-1]

    def apart(starts):
        on = np.repeat(letters, np.diff([0, *starts, len(own)]))
        return columns[on].mean(axis=0) - columns[~on].mean(axis=0)

    every = np.array([apart(one) for one in places(len(own), len(stretches) - 1)])
    return every, apart(actual)


def free_places(own):
    """How many admissible places of the changes there are."""
    later = len(runs(own)) - 1
    free = len(own) - shortest * (later + 1)
    return math.comb(free + later, later)


def drawn_places(own, chance):
    """Differences at places that the stream gives."""
    stretches = runs(own)
    later = len(stretches) - 1
    free = len(own) - shortest * (later + 1)
    chosen = np.sort(chance.uniform(SOME, free + later).argsort(axis=1)[:, :later])
    starts = chosen - np.arange(later) + shortest * (np.arange(later) + 1)
    letters = np.array([phase == treated for phase, _ in stretches])
    edges = np.column_stack([np.zeros(SOME, int), starts, np.full(SOME, len(own))])
    columns = np.array([(value, phase == treated) for phase, value in own], dtype=float)
    sums = np.vstack([np.zeros(2), np.cumsum(columns, axis=0)])
    inside = (np.diff(edges) * letters).sum(axis=1)[:, None]
    within = (np.diff(sums[edges], axis=1) * letters[None, :, None]).sum(axis=1)
    return within / inside - (sums[-1] - within) / (len(own) - inside)


def by_changes():
    n, number = len(watches), math.prod(free_places(own) for own in watches.values())
    actual = sum(changed(own)[1] for own in watches.values()) / n
    if number > ALL:
        chance = Chance()
        total = sum(drawn_places(own, chance) for own in watches.values()) / n
        return np.vstack([total, actual]), actual, number, SOME
    total = np.zeros((1, 2))
    for own in watches.values():
        total = (total[:, None, :] + changed(own)[0] / n).reshape(-1, 2)
    return total, actual, number, 0


def by_drawn_orders():
    """Orders dealt anew among animals, each in the order that was drawn for it."""
    own = {a: runs(one) for a, one in watches.items()
           if a in given and len(runs(one)) == len(given[a])}
    return orders_of([given[a] for a in own],
                     [[np.mean(values) for _, values in one] for one in own.values()],
                     treated, control)


if any(one["name"] == "phases_as_randomised" for one in TESTS):
    has_orders = not has_changes and any(one in watches for one in given)
    found = by_drawn_orders() if has_orders else of_two(*by_changes())
    told("phases_as_randomised", compared, **finite(found))
if any(one["name"] == "paired_t" for one in TESTS):
    t_test("paired_t", *np.array(both).T, compared)
'''
