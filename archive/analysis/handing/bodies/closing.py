"""How a program that is handed over ends: what it made, held against what was recorded."""

CLOSING = """
BESIDE = {"arm", "time", "day", "hour", "session", "dose"}
RECORDED = {}
for table, one in TABLES.items():
    heads = one["heads"]
    labels = 2 if len(heads) > 1 and heads[1] in BESIDE else 1
    for row in one["rows"]:
        beside = row[1] if labels == 2 else ""
        for head, value in zip(heads[labels:], row[labels:]):
            if isinstance(value, (int, float)):
                RECORDED[table, str(row[0]), str(beside), head] = value
for one in TESTS:
    figures = {head: one[head] for head in ("effect", "low", "high", "p", "smallest_p")}
    for head, value in {**figures, **dict(one["figures"])}.items():
        if value is not None:
            RECORDED["test", one["name"], one["compared"], head] = value
alike, other, lacking = 0, [], []
for key, recorded in RECORDED.items():
    if key not in MADE:
        lacking.append(key)
    elif math.isclose(MADE[key], recorded, rel_tol=1e-5, abs_tol=1e-8):
        alike += 1
    else:
        other.append((key, MADE[key], recorded))
print(alike, "numbers are as recorded;", len(other), "are not;", len(lacking),
      "were not made again here.")
for key, value, recorded in other:
    print(*key, value, "recorded:", recorded)
for key in lacking:
    print(*key, "not made again; recorded:", RECORDED[key])
if other or not alike:
    sys.exit(1)
"""

NOT_MADE = """
print("This program does not make the numbers of this kind of analysis again yet.")
print("It reads the published table, so that you can; below stands what was recorded.")
rows = read(next(iter(ADDRESSES.values())))
print(len(rows), "rows")
for table, one in TABLES.items():
    print(table, one["heads"], *one["rows"], sep="\\n")
sys.exit(2)
"""
"""Of a kind that no program makes again yet: it says so, and ends with 2."""
