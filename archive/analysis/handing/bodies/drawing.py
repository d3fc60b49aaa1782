"""What a program needs to draw as we drew: the stream of the recorded seed, and every deal."""

CHANCE = '''
class Chance:
    """Numbers that the recorded seed gives again: words of PCG64, the first 53 bits of each."""

    def __init__(self):
        self.words = np.random.PCG64(SEED)

    def uniform(self, *shape):
        words = self.words.random_raw(int(np.prod(shape)))
        return (((words >> np.uint64(11)) + 0.5) * 2.0**-53).reshape(shape)

    def below(self, n, *shape):
        return (self.uniform(*shape) * n).astype(np.intp)
'''

DRAWING = (
    CHANCE
    + '''

ALL, SOME, FEW, AT_ONCE = 1_000_000, 99_999, 5000, 4_000_000


def ways(labels):
    """How many ways there are to deal labels among units."""
    return math.factorial(len(labels)) // math.prod(map(math.factorial, np.bincount(labels)))


def every(values, labels):
    """The sums of every deal: values[unit, label] is what a unit adds under a label."""
    sums = {tuple(np.bincount(labels, minlength=values.shape[1])): np.zeros((1, values.shape[2]))}
    for unit in values:
        longer = {}
        for left, found in sums.items():
            for label, times in enumerate(left):
                if times:
                    rest = (*left[:label], times - 1, *left[label + 1 :])
                    longer.setdefault(rest, []).append(found + unit[label])
        sums = {left: np.concatenate(found) for left, found in longer.items()}
    return next(iter(sums.values()))


def some(values, labels, chance):
    """The sums of deals that the stream gives."""
    n = len(labels)
    if ways(labels) <= FEW:
        found = every(values, labels)
        return found[chance.below(len(found), SOME)]
    found, step = [], max(1, AT_ONCE // max(1, n * values.shape[2]))
    for begin in range(0, SOME, step):
        order = chance.uniform(min(step, SOME - begin), n).argsort(axis=1)
        found.append(values[np.arange(n), labels[order]].sum(axis=1))
    return np.concatenate(found)


def looked_at(parts):
    """Statistics of all arrangements or of some, the actual one, their number, how many drawn."""
    number = math.prod(ways(labels) for _, labels in parts)
    actual = sum(values[np.arange(len(labels)), labels].sum(axis=0) for values, labels in parts)
    if number <= ALL:
        total = np.zeros((1, len(actual)))
        for values, labels in parts:
            total = (total[:, None, :] + every(values, labels)).reshape(-1, len(actual))
        return total, actual, number, 0
    total, chance = np.zeros((SOME, len(actual))), Chance()
    for values, labels in parts:
        total += some(values, labels, chance)
    return np.vstack([total, actual]), actual, number, SOME


def shares_of_extremes(seen, actual):
    """p, and the smallest p that any outcome could have had."""
    slack = 1e-10 * max(seen.max(), 1e-300)
    return float((seen >= actual - slack).mean()), float((seen >= seen.max() - slack).mean())


def blocks_of(block, n):
    """The places of each block's units; all units are one block where there is none."""
    block = [""] * n if block is None else list(block)
    return [np.array([at for at, one in enumerate(block) if one == name])
            for name in dict.fromkeys(block)]


def two_arms(values, treated, block=None):
    """The test by the draw of two arms: a block counts once, and is dealt by itself."""
    treated = np.asarray(treated, dtype=bool)
    columns, parts = np.column_stack([values, treated.astype(float)]), []
    places = blocks_of(block, len(treated))
    for units in places:
        labels, own = treated[units], columns[units] / len(places)
        two = np.stack([-own / (~labels).sum(), own / labels.sum()], axis=1)
        parts.append((two, labels.astype(np.intp)))
    return of_two(*looked_at(parts))


def of_two(seen, actual, number, drawn):
    """Give what is told of a test of two arms, with the effects that it does not reject."""
    p, smallest = shares_of_extremes(np.abs(seen[:, 0]), abs(actual[0]))
    a, b = seen[:, 0], np.clip(seen[:, 1], -1, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        one = np.where(1 - b > 1e-12, (actual[0] - a) / (1 - b), np.nan)
        other = np.where(1 + b > 1e-12, (actual[0] + a) / (1 + b), np.nan)
    always = np.isnan(one) | np.isnan(other)
    low = np.sort(np.where(always, -np.inf, np.fmin(one, other)))
    high = np.sort(np.where(always, np.inf, np.fmax(one, other)))[::-1]
    place = int(0.05 * len(seen) + 1e-9)
    return {"effect": actual[0], "low": low[place], "high": high[place],
            **of_draw(p, smallest, number, drawn)}


def of_draw(p, smallest, number, drawn):
    error = math.sqrt(p * (1 - p) / drawn) if drawn else 0.0
    return {"p": p, "smallest_p": smallest, "arrangements": number, "error of p": error}


def any_arms(values, arms, block=None):
    """The test by the draw of any difference between several arms."""
    values, names, parts = np.asarray(values, dtype=float), list(dict.fromkeys(arms)), []
    label = np.array([names.index(one) for one in arms])
    places = blocks_of(block, len(label))
    for units in places:
        own = values[units] - values[units].mean()
        each = np.eye(len(names)) / np.bincount(label[units], minlength=len(names))
        parts.append((own[:, None, None] * each / len(places), label[units]))
    weight = np.bincount(label) if block is None else np.ones(len(names))
    seen, actual, number, drawn = looked_at(parts)
    p, smallest = shares_of_extremes((seen**2 * weight).sum(axis=1), (actual**2 * weight).sum())
    return of_draw(p, smallest, number, drawn)
'''
)

REDRAWING = '''
def redrawn(labels, arms):
    """What minimisation, or a Latin square, could have given as well; whether these are all."""
    chance, draws = Chance(), 9_999
    if DRAWN["method"] == "Latin square":
        order = math.isqrt(len(labels))
        rows, columns, symbols = (
            np.argsort(chance.uniform(draws, order), axis=1) for _ in range(3)
        )
        moved = labels.reshape(order, order)[rows[:, :, None], columns[:, None, :]]
        found = np.take_along_axis(symbols, moved.reshape(draws, -1), axis=1)
        found = np.vstack([labels, found])
        single = np.unique(found, axis=0)
        return (single, True) if len(single) * 20 < draws else (found, False)
    share, levels = float(DRAWN["given"].get("share") or 0.8), DRAWN["given"]["levels"]
    found, counts = np.empty((draws, len(labels)), dtype=np.intp), {}
    for place, (unit, *_) in enumerate(DRAWN["places"]):
        held = [counts.setdefault(one, np.zeros((draws, len(arms)), dtype=np.intp))
                for one in levels[unit].items()]
        apart = np.zeros((draws, len(arms)), dtype=np.intp)
        for one in held:
            for arm in range(len(arms)):
                after = one + (np.arange(len(arms)) == arm)
                apart[:, arm] += after.max(axis=1) - after.min(axis=1)
        best = apart == apart.min(axis=1)[:, None]
        leans = best.all(axis=1) | (chance.below(1000, draws) < round(1000 * share))
        among = np.where(leans[:, None], best, ~best)
        found[:, place] = np.where(among, chance.uniform(draws, len(arms)), 0.0).argmax(axis=1)
        for one in held:
            one[np.arange(draws), found[:, place]] += 1
    return np.vstack([labels, found]), False


def of_redrawn(values, treated=None):
    """The test by a draw that is drawn anew, of two arms or of any difference."""
    places = DRAWN["places"]
    names = [*(DRAWN.get("given") or {}).get("arms", ()), *(one[1] for one in places)]
    arms = list(dict.fromkeys(names))
    actual = np.array([arms.index(one[1]) for one in places])
    labels, is_all = redrawn(actual, arms)
    kept = [at for at, one in enumerate(places) if not math.isnan(values.get(one[0], math.nan))]
    y = np.array([values[places[at][0]] for at in kept])
    drawn = 0 if is_all else len(labels) - 1
    if treated is None:
        labels, actual, seen, own = labels[:, kept], actual[kept], 0.0, 0.0
        for arm in range(len(arms)):
            inside = labels == arm
            seen = seen + (inside @ (y - y.mean())) ** 2 / np.maximum(inside.sum(axis=1), 1)
            own = own + (y - y.mean())[actual == arm].sum() ** 2 / max(1, (actual == arm).sum())
        return of_draw(*shares_of_extremes(seen, own), len(labels), drawn)
    rows = labels == arms.index(treated)
    rows = rows[rows.any(axis=1) & ~rows.all(axis=1)][:, kept]
    rows = rows[rows.any(axis=1) & ~rows.all(axis=1)]
    was = np.array([places[at][1] == treated for at in kept])
    columns = np.column_stack([y, was.astype(float)])
    seen, own = (
        np.where(one, 1 / one.sum(axis=1)[:, None], -1 / (~one).sum(axis=1)[:, None]) @ columns
        for one in (rows, was[None, :])
    )
    return of_two(seen, own[0], len(rows), drawn)
'''
"""Of allocations by minimisation or by a Latin square alone."""
