"""Arms and tests as a program makes them again: units first, then each test by its name."""

TESTING = '''
def arms_of(rows):
    """The arm of each row: as the table says, or as units were drawn."""
    if COLUMNS.get("treatment"):
        return column(rows, "treatment")
    drawn = {one[0]: one[1] for one in DRAWN["places"]}
    return [drawn.get(unit) for unit in column(rows, "unit")]


def unit_means(values, units, arms, within=False):
    """Arm, mean and rows of each unit, or of each unit in each arm; units as they first occur."""
    found = {}
    for value, unit, arm in zip(values, units, arms):
        if unit and arm and not math.isnan(value):
            found.setdefault((unit, arm if within else ""), (arm, []))[1].append(value)
    return {key: (arm, float(np.mean(one)), len(one)) for key, (arm, one) in found.items()}


def compared(values, units, arms):
    """Means of units; where some unit has several arms, of those that went through all."""
    in_arms = {}
    for unit, arm in zip(units, arms):
        if unit and arm:
            in_arms.setdefault(unit, set()).add(arm)
    if not any(len(one) > 1 for one in in_arms.values()):
        return unit_means(values, units, arms), False
    found = unit_means(values, units, arms, True)
    every_arm = {arm for arm, *_ in found.values()}
    whole = {unit for unit, _ in found if {arm for u, arm in found if u == unit} == every_arm}
    return {key: one for key, one in found.items() if key[0] in whole}, True


class Sides:
    """Units in their arms, as they were allocated, with the arm that others are set against."""

    def __init__(self, found, within=False, counts=None):
        drawn = {one[0]: one[1] for one in DRAWN["places"]} if DRAWN and not within else {}
        names = {unit for unit, _ in found}
        if not drawn.keys() & names or not {a for a, *_ in found.values()} <= {*drawn.values()}:
            drawn = {}
        self.found = {key: (drawn.get(key[0], arm), value, rows)
                      for key, (arm, value, rows) in found.items()}
        self.within, self.counts = within, counts
        self.names = [unit for unit, _ in self.found]
        self.arms = [arm for arm, *_ in self.found.values()]
        self.values = np.array([value for _, value, _ in self.found.values()])
        known = sorted(set(self.arms))
        first = OPTIONS.get("reference") if OPTIONS.get("reference") in known else known[0]
        self.order = [first, *(one for one in known if one != first)]

    def of(self, arm):
        """The values of an arm: in the order of units' names where each went through all."""
        pairs = [(unit, value) for unit, own, value in zip(self.names, self.arms, self.values)
                 if own == arm]
        return np.array([value for _, value in (sorted(pairs) if self.within else pairs)])

    def tables(self):
        """Keep the tables of arms and of units, and every test that was recorded."""
        for (unit, _), (arm, value, rows) in self.found.items():
            keep("units", unit, arm, {"mean": value, "rows": rows})
        for arm in self.order:
            n, mean, sd, low, high = mean_of(self.of(arm))
            keep("arms", arm, "", {"units": n, "mean": mean, "standard deviation": sd,
                                   "from": low, "to": high})
        for name in dict.fromkeys(one["name"] for one in TESTS):
            if name in DONE:
                DONE[name](self, name)


def told(name, compared, **figures):
    keep("test", name, compared, figures)


def two(sides):
    treated, control = sides.order[1], sides.order[0]
    return sides.of(treated), sides.of(control), f"{treated} minus {control}"


def by_t(sides, name):
    t_test(name, *two(sides))


def t_test(name, one, other, said):
    """Student's, Welch's or the paired test; where nothing varies it gives the effect alone."""
    with warnings.catch_warnings(action="ignore"), np.errstate(all="ignore"):
        if name == "paired_t":
            done, effect = stats.ttest_rel(one, other), (one - other).mean()
        else:
            done = stats.ttest_ind(one, other, equal_var=name != "welch_t")
            effect = one.mean() - other.mean()
        ends = [effect if math.isnan(end) else end for end in done.confidence_interval(0.95)]
    told(name, said, effect=effect, low=ends[0], high=ends[1], p=done.pvalue,
         t=done.statistic, df=done.df)


def quasi(sides, name):
    """Pooled log odds with Pearson's spread between units, by t."""
    logits, variance, pearson, n = [], 0.0, 0.0, 0
    for arm in (sides.order[1], sides.order[0]):
        own = [sides.counts[unit] for unit, one in zip(sides.names, sides.arms) if one == arm]
        x, of = np.array(own).T
        total = of.sum()
        share = min(max(x.sum() / total, 0.5 / total), 1 - 0.5 / total)
        pearson += ((x - of * share) ** 2 / (of * share * (1 - share))).sum()
        variance += 1 / (total * share * (1 - share))
        logits.append(special.logit(share))
        n += len(of)
    error = math.sqrt(max(1.0, pearson / (n - 2)) * variance)
    effect, half = logits[0] - logits[1], stats.t.ppf(0.975, n - 2) * error
    told(name, two(sides)[2], effect=effect, low=effect - half, high=effect + half,
         t=effect / error, df=n - 2, p=2 * stats.t.sf(abs(effect / error), n - 2))


def hedges(sides, name):
    """The difference in standard deviations, its interval by the noncentral t."""
    one, other, said = two(sides)
    n, m = len(one), len(other)
    df, root = n + m - 2, math.sqrt(n * m / (n + m))
    spread = math.sqrt(((n - 1) * one.var(ddof=1) + (m - 1) * other.var(ddof=1)) / df)
    d = (one.mean() - other.mean()) / spread
    unbiased = math.exp(special.gammaln(df / 2) - special.gammaln((df - 1) / 2)) / math.sqrt(df / 2)
    t = d * root
    ends = [
        optimize.brentq(lambda shift: special.nctdtr(df, shift, t) - tail,
                        t - 10 - 10 * abs(t), t + 10 + 10 * abs(t), xtol=1e-12)
        for tail in (0.975, 0.025)
    ]
    low, high = (shift / root * unbiased for shift in ends)
    told(name, said, effect=d * unbiased, low=low, high=high)


def variance(sides, name):
    held = [sides.of(arm) for arm in sides.order]
    done, n = stats.f_oneway(*held), len(sides.values)
    told(name, "all arms", p=done.pvalue, F=done.statistic, df=len(held) - 1,
         **{"df of error": n - len(held)})


def pairs_of_arms(sides, name):
    """Every pair by Tukey's studentised range."""
    held = [sides.of(arm) for arm in sides.order]
    done = stats.tukey_hsd(*held)
    ends = done.confidence_interval(0.95)
    for at, one in enumerate(sides.order):
        for to in range(at + 1, len(held)):
            told(name, f"{one} minus {sides.order[to]}", effect=held[at].mean() - held[to].mean(),
                 low=ends.low[at, to], high=ends.high[at, to], p=done.pvalue[at, to])


def ranks_of_two(sides, name):
    one, other, said = two(sides)
    said = said.replace(" minus ", " with ")
    if name == "rank_sum":
        ranks = stats.rankdata(np.concatenate([one, other]))
        found = two_arms(ranks, np.arange(len(ranks)) < len(one))
        statistic = ranks[: len(one)].sum() - len(one) * (len(one) + 1) / 2
        told(name, said, p=found["p"], W=statistic, arrangements=found["arrangements"])
        return
    apart = (one - other)[one != other]
    ranks = stats.rankdata(np.abs(apart)) * np.sign(apart)
    both = np.column_stack([ranks, -ranks]).ravel() / 2
    n = len(ranks)
    found = two_arms(both, np.tile([True, False], n), np.arange(n).repeat(2).tolist())
    told(name, said, p=found["p"], V=ranks[ranks > 0].sum(), arrangements=found["arrangements"])


def kruskal(sides, name):
    found = any_arms(stats.rankdata(sides.values), sides.arms)
    h = stats.kruskal(*(sides.of(arm) for arm in sides.order)).statistic
    told(name, "all arms", p=found["p"], H=h, arrangements=found["arrangements"])


def ranks_within(sides, name):
    ranks = stats.rankdata(np.column_stack([sides.of(arm) for arm in sides.order]), axis=1)
    n, k = ranks.shape
    if name == "friedman":
        blocks = np.arange(n).repeat(k).tolist()
        found = any_arms(ranks.ravel(), list(range(k)) * n, blocks)
        apart = ((ranks.sum(axis=0) - n * (k + 1) / 2) ** 2).sum()
        chi2 = (k - 1) * apart / ((ranks - (k + 1) / 2) ** 2).sum()
        told(name, "all arms", p=found["p"], arrangements=found["arrangements"], **{"χ²": chi2})
        return
    order = np.arange(1, k + 1.0)
    statistic = (ranks * order).sum()
    parts = [((row[:, None] * order)[:, :, None], np.arange(k)) for row in ranks]
    seen, _, number, _ = looked_at(parts)
    told(name, f"rising in the order {', '.join(sides.order)}", L=statistic, arrangements=number,
         p=(seen[:, 0] >= statistic - 1e-9).mean())


def by_the_draw(sides, name):
    """Units dealt anew as the register's draw dealt them: freely, within blocks, by its rule."""
    values = dict(zip(sides.names, sides.values))
    places = [one for one in DRAWN["places"] if not math.isnan(values.get(one[0], math.nan))]
    y, arms = np.array([values[one[0]] for one in places]), [one[1] for one in places]
    block = None if DRAWN["method"] == "complete randomisation" else [one[2] for one in places]
    anew = DRAWN["method"] in {"minimisation", "Latin square"}
    if name == "among_arms_as_randomised":
        found = of_redrawn(values) if anew else any_arms(y, arms, block)
        told(name, "all arms", **found)
        return
    treated = sides.order[1]
    if anew:
        found = of_redrawn(values, treated)
    else:
        inside = np.array([one == treated for one in arms])
        if block is not None:
            whole = [len({a for a, b in zip(arms, block) if b == one}) > 1 for one in block]
            y, inside = y[np.array(whole)], inside[np.array(whole)]
            block = [one for one, is_whole in zip(block, whole) if is_whole]
        found = two_arms(y, inside, block)
    told(name, two(sides)[2], **finite(found))


def finite(found):
    return {head: value for head, value in found.items() if math.isfinite(value)}


def orders_of(given, values, treated, control):
    """Drawn orders dealt anew among units; values are those of each unit, in its own order."""
    kinds = list(dict.fromkeys(given))

    def weights(order):
        on, off = (np.array([one == arm for one in order]) for arm in (treated, control))
        return on / on.sum() - off / off.sum()

    weight = np.array([weights(one) for one in kinds])
    columns = np.array([[(value, arm == treated) for value, arm in zip(own, order)]
                        for own, order in zip(values, given)], dtype=float) / len(given)
    found = np.einsum("kp,upc->ukc", weight, columns)
    return of_two(*looked_at([(found, np.array([kinds.index(one) for one in given]))]))


def by_orders(sides, name):
    """Units that went through both arms, in the orders that were drawn for them."""
    value = {(unit, arm): one for unit, arm, one in zip(sides.names, sides.arms, sides.values)}
    drawn = {one[0]: one[3] for one in DRAWN["places"]
             if one[0] in sides.names and sorted(one[3]) == sorted(sides.order)}
    found = orders_of([tuple(one) for one in drawn.values()],
                      [[value[unit, arm] for arm in order] for unit, order in drawn.items()],
                      sides.order[1], sides.order[0])
    told(name, two(sides)[2], **finite(found))


def scores(sides, name):
    """Mean log-rank scores of units, dealt anew."""
    if len(sides.order) > 2:
        told(name, "all arms", **any_arms(sides.values, sides.arms))
        return
    found = two_arms(sides.values, [arm == sides.order[1] for arm in sides.arms])
    told(name, two(sides)[2], **{one: found[one] for one in found if one not in {"low", "high"}})


DONE = {
    "unit_t": by_t, "welch_t": by_t, "paired_t": by_t, "logit_t": by_t, "quasi_binomial": quasi,
    "hedges_g": hedges, "unit_f": variance, "every_pair": pairs_of_arms,
    "rank_sum": ranks_of_two, "signed_ranks": ranks_of_two, "kruskal_wallis": kruskal,
    "friedman": ranks_within, "page": ranks_within, "as_randomised": by_the_draw,
    "among_arms_as_randomised": by_the_draw, "orders_as_randomised": by_orders,
    "tank_log_rank": scores,
}
'''
