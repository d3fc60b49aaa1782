"""The child that reads pools and tries rules: options as JSON come in, one answer goes out.

Started as ``python -m archive.extending.pool_child`` by `archive.pooling` and `archive.trying`. The
libraries that it needs are loaded nowhere else.
"""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from archive.extending.carrying import Cohort
from archive.extending.looking import columns_told, page_of_rows, summary
from archive.extending.pooling import Pool
from archive.extending.room import PoolRoom
from archive.extending.rules import rule_from_dict
from archive.extending.sifting import Condition, How
from archive.extending.trying import tried
from archive.extending.writing import described, write, write_book
from registry.errors import Refusal
from registry.guarded.child import answer_once


def main() -> int:
    """Do with a pool what the options on standard input say."""
    return answer_once(answer, lambda _options: PoolRoom())


def answer(options: Mapping[str, Any]) -> dict[str, Any]:
    """Look at a page of a pool, sum it up, or write it; try rules; or write one table as a book."""
    if book := options.get("book"):
        return {"written": write_book(Path(book["copy"]), Path(book["target"]), book["title"])}
    if (trial := options.get("trial")) is not None:
        return {"tables": [_tried(_cohort(one), trial) for one in options["cohorts"]]}
    pool = Pool(tuple(map(_cohort, options["cohorts"])))
    conditions = [
        Condition(one["column"], How(one["how"]), one["value"])
        for one in options.get("conditions", ())
    ]
    told: dict[str, Any] = {"columns": columns_told(pool)}
    if look := options.get("look"):
        told["rows"], told["count"] = page_of_rows(pool, conditions, **look)
    if asked := options.get("summary"):
        told["groups"] = summary(pool, conditions, **asked)
    if asked := options.get("write"):
        told["written"] = write(pool, conditions, Path(asked["target"]), asked["form"])
    if asked := options.get("describe"):
        told["resource"] = described(pool, **asked)
    return told


def _tried(cohort: Cohort, trial: Mapping[str, Any]) -> dict[str, Any]:
    """Try the rules of one table; where they do not fit it at all, the others are tried still."""
    try:
        return tried(cohort, **trial)
    except Refusal as refused:
        return {"refused": refused.why, "next": refused.next}


def _cohort(told: Mapping[str, Any]) -> Cohort:
    rules = tuple(map(rule_from_dict, told["rules"]))
    return Cohort(told["identifier"], Path(told["path"]), told["resource"], rules)


if __name__ == "__main__":
    sys.exit(main())
