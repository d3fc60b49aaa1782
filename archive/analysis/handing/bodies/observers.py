"""Agreement of observers as a program makes it again."""

JACKKNIFE = '''
def jackknifed(value, without):
    """Both ends by what leaving out each unit in turn gives."""
    kept = np.array([one for one in without if math.isfinite(one)])
    n = len(kept)
    if n < 2:
        return None, None
    error = math.sqrt((n - 1) / n * ((kept - kept.mean()) ** 2).sum())
    half = stats.t.ppf(0.975, n - 1) * error
    return max(-1.0, value - half), min(1.0, value + half)
'''

AGREEMENT = '''
rows = read(next(iter(ADDRESSES.values())))
moments, observers, codes = (column(rows, one) for one in ("moment", "observer", "behaviour"))
ranked = OPTIONS.get("ranked") or []
ethogram = ranked or ETHOGRAM or sorted(in_order(codes))
plain_weights = 1 - np.eye(len(ethogram))
steps = np.abs(np.subtract.outer(np.arange(len(ethogram)), np.arange(len(ethogram)))).astype(float)
coded, session_of = {name: {} for name in in_order(observers)}, {}
for moment, observer, code, session in zip(moments, observers, codes, column(rows, "session")):
    if moment and observer and code:
        coded[observer][moment] = code
        session_of[moment] = session


def kappa_of(table, apart):
    """Kappa by weights of disagreement: 1 for any two codes, or the steps between them."""
    share = table / table.sum()
    chance = (apart * np.outer(share.sum(axis=1), share.sum(axis=0))).sum()
    return 1 - (apart * share).sum() / chance if chance > 1e-15 else float("nan")


def large_sample(table, apart):
    """Both ends by Fleiss, Cohen and Everitt (1969), moments taken as independent."""
    share, kappa, alike = table / table.sum(), kappa_of(table, apart), 1 - apart / apart.max()
    first, second = share.sum(axis=1), share.sum(axis=0)
    chance = (alike * np.outer(first, second)).sum()
    inner = alike - ((alike @ second)[:, None] + (first @ alike)[None, :]) * (1 - kappa)
    variance = (share * inner**2).sum() - (kappa - chance * (1 - kappa)) ** 2
    half = stats.norm.ppf(0.975) * math.sqrt(max(0.0, variance) / table.sum()) / (1 - chance)
    return max(-1.0, kappa - half), min(1.0, kappa + half)


def bounded(tables, apart):
    """Kappa and both ends: by leaving out sessions where they are known."""
    table = sum(tables.values())
    kappa = kappa_of(table, apart)
    if math.isnan(kappa):
        return kappa, None, None
    if not COLUMNS.get("session"):
        return kappa, *large_sample(table, apart)
    left = [table - single for single in tables.values()]
    return kappa, *jackknifed(kappa, [kappa_of(one, apart) if one.any() else math.nan
                                      for one in left])


def pair(one, other):
    both = [m for m in coded[one] if m in coded[other]
            and coded[one][m] in ethogram and coded[other][m] in ethogram]
    if not both:
        return
    tables = {}
    for moment in both:
        table = tables.setdefault(session_of[moment], np.zeros((len(ethogram), len(ethogram))))
        table[ethogram.index(coded[one][moment]), ethogram.index(coded[other][moment])] += 1
    table = sum(tables.values())
    same = int(np.trace(table))
    ends = stats.binomtest(same, len(both)).proportion_ci(method="wilson")
    kappa, low, high = bounded(tables, plain_weights)
    keep("pairs", f"{one} and {other}", "", {
        "moments": len(both), "coded alike": same / len(both), "from": ends.low, "to": ends.high,
        "kappa": kappa, "kappa from": low, "kappa to": high,
        "behaviours seen": ((table.sum(axis=0) + table.sum(axis=1)) > 0).sum(),
        "behaviours in all": len(ethogram),
    })
    if ranked:
        kappa, low, high = bounded(tables, steps)
        keep("weighted", f"{one} and {other}", "",
             {"weighted kappa": kappa, "from": low, "to": high})


names = list(coded)
for at, one in enumerate(names):
    for other in names[at + 1 :]:
        pair(one, other)


def fleiss_of(totals, alike, moments, observers):
    chance = ((totals / max(1, moments * observers)) ** 2).sum()
    return (alike / max(1, moments) - chance) / (1 - chance) if chance < 1 - 1e-12 else math.nan


def fleiss():
    """Fleiss' kappa of three observers or more, of the moments that all of them coded."""
    known, k = in_order(codes), len(names)
    whole = [m for m in in_order(moments) if all(m in coded[name] for name in names)]
    counts = np.array([[sum(coded[name][m] == code for name in names) for code in known]
                       for m in whole], dtype=float)
    if k < 3 or not len(whole):
        return
    totals, n = counts.sum(axis=0), len(counts)
    alike = (counts * (counts - 1)).sum(axis=1) / (k * (k - 1))
    kappa = fleiss_of(totals, alike.sum(), n, k)
    if math.isnan(kappa):
        return
    low, high = jackknifed(kappa, [fleiss_of(totals - own, alike.sum() - one, n - 1, k)
                                   for own, one in zip(counts, alike)])
    keep("fleiss", "all observers", "", {"moments": n, "kappa": kappa, "from": low, "to": high})


fleiss()

# Krippendorff: pairs of codes within each moment, and those that chance would give.
levels = in_order(codes)
by_moment = []
for moment in in_order(moments):
    own = [levels.index(coded[name][moment]) for name in names if moment in coded[name]]
    if len(own) > 1:
        counts = np.bincount(own, minlength=len(levels)).astype(float)
        by_moment.append((np.outer(counts, counts) - np.diag(counts)) / (len(own) - 1))


def alpha_of(pairs):
    totals = pairs.sum(axis=1)
    n = totals.sum()
    unlike = 1 - np.eye(len(totals))
    chance = (unlike * np.outer(totals, totals)).sum() / (n - 1) if n > 1 else 0.0
    return 1 - (unlike * pairs).sum() / chance if chance > 1e-15 else float("nan")


if by_moment:
    whole = sum(by_moment)
    alpha = alpha_of(whole)
    low, high = jackknifed(alpha, [alpha_of(whole - one) for one in by_moment])
    keep("alpha", "all observers", "", {"alpha": alpha, "from": low, "to": high})
'''

MEASURED = '''
rows = read(next(iter(ADDRESSES.values())))
moments, observers, values = column(rows, "moment"), column(rows, "observer"), numbers(
    rows, "outcome")
held = {}
for moment, observer, value in zip(moments, observers, values):
    if moment and observer and not math.isnan(value):
        held.setdefault((moment, observer), []).append(value)
names = in_order(observers)
sheet = np.array([[np.mean(held[m, o]) if (m, o) in held else math.nan for o in names]
                  for m in in_order(moments)])
for name, own in zip(names, sheet.T):
    kept = own[np.isfinite(own)]
    keep("observers", name, "", {"measured": len(kept),
                                 "mean": kept.mean() if len(kept) else None})


def forms(y):
    """The six forms of Shrout and Fleiss, each with both ends."""
    n, k = y.shape
    targets, judges, middle = y.mean(axis=1), y.mean(axis=0), y.mean()
    between = k * ((targets - middle) ** 2).sum() / (n - 1)
    within = ((y - targets[:, None]) ** 2).sum()
    judged = n * ((judges - middle) ** 2).sum()
    error, judged_ms = (within - judged) / ((n - 1) * (k - 1)), judged / (k - 1)

    def form(ratio):
        return (ratio - 1) / (ratio + k - 1)

    def by_f(below, df):
        ratio = between / below
        return (form(ratio), form(ratio / stats.f.ppf(0.975, n - 1, df)),
                form(ratio * stats.f.ppf(0.975, df, n - 1)))

    value = (between - error) / (between + (k - 1) * error + k * (judged_ms - error) / n)
    ratio, rest = judged_ms / error, n * (1 + (k - 1) * value) - k * value
    v = (k - 1) * (n - 1) * (k * value * ratio + rest) ** 2 / (
        (n - 1) * k**2 * value**2 * ratio**2 + rest**2)
    high_f, low_f = stats.f.ppf(0.975, n - 1, v), stats.f.ppf(0.975, v, n - 1)
    base = k * judged_ms + (k * n - k - n) * error
    random = (value, n * (between - high_f * error) / (high_f * base + n * between),
              n * (low_f * between - error) / (base + n * low_f * between))
    single = [by_f(within / (n * (k - 1)), n * (k - 1)), random, by_f(error, (n - 1) * (k - 1))]
    mean = [tuple(k * one / (1 + (k - 1) * one) for one in each) for each in single]
    return [*single, *mean]


whole = sheet[np.isfinite(sheet).all(axis=1)]
if any(table == "icc" for table in TABLES):
    for row, (value, low, high) in zip(TABLES["icc"]["rows"], forms(whole)):
        keep("icc", row[0], "", {"value": value, "from": low, "to": high})

# Krippendorff: how far the values of a thing are apart, and how far any two values are.
units = [own[np.isfinite(own)] for own in sheet]
units = [own for own in units if len(own) > 1]
middle = np.concatenate(units).mean() if units else 0.0
size, total, square = (np.array([one(own - middle) for own in units])
                       for one in (len, np.sum, lambda own: (own**2).sum()))
if len(units) and np.ptp(np.concatenate(units)) > 0:
    within = 2 * (size * square - total**2) / (size - 1)

    def alpha_of(seen, n, total, square):
        chance = 2 * (n * square - total**2) / np.maximum(n - 1, 1)
        return 1 - seen / np.where(chance > 1e-15, chance, math.nan)

    every = [one.sum() for one in (within, size, total, square)]
    alpha = float(alpha_of(*every))
    left = alpha_of(*(all_ - one for all_, one in zip(every, (within, size, total, square))))
    low, high = jackknifed(alpha, left)
    keep("alpha", "all observers", "", {"alpha": alpha, "from": low, "to": high})
'''
