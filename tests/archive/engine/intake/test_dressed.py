"""A plain table, dressed as students dress tables, is given back plain by its recipe."""

import csv
import io
import tempfile
from datetime import date
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from archive.engine.intake.building import recipe_of
from archive.engine.intake.converting import convert_here
from archive.engine.intake.proposing import look
from archive.engine.limits import Limits
from tests.archive.engine.intake.making import laid, table

NAMES = st.from_regex(r"R-[0-9]{2}[a-zéü]?", fullmatch=True)
DEPTHS = st.one_of(
    st.just(""), st.decimals("0", "99", places=2).map(lambda depth: f"{depth.normalize():f}")
)
ROWS = st.lists(
    st.tuples(
        NAMES,
        st.dates(date(2020, 1, 1), date(2029, 12, 31)).map(date.isoformat),
        st.sampled_from(["REST", "SWIM"]),
        DEPTHS,
    ),
    min_size=2,
    max_size=25,
)


def _plain(rows: list[tuple[str, ...]]) -> str:
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n")
    writer.writerow(["ray", "seen_on", "posture", "depth"])
    writer.writerows(rows)
    return made.getvalue()


@given(
    rows=ROWS,
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"]),
    titles=st.lists(st.sampled_from(["Scans of rays", "Autumn", ""]), max_size=4),
    is_comma=st.booleans(),
    order=st.sampled_from(["iso", "dmy", "mdy"]),
    notes=st.lists(st.sampled_from(["Fed late.", "See the diary, page 3"]), max_size=2),
    blanks=st.integers(0, 3),
    end=st.sampled_from(["\n", "\r\n"]),
)
@settings(max_examples=120, deadline=None, derandomize=True)
def test_a_dressed_table_is_given_back_plain(
    rows: list[tuple[str, str, str, str]],
    delimiter: str,
    encoding: str,
    titles: list[str],
    is_comma: bool,
    order: str,
    notes: list[str],
    blanks: int,
    end: str,
) -> None:
    made = io.StringIO()
    writer = csv.writer(made, delimiter=delimiter, lineterminator=end)
    for title in titles:
        made.write(title + end)
    writer.writerow(["Ray", "Seen on", "posture", "Depth [m]"])
    for ray, day, posture, depth in rows:
        year, month, of_month = day.split("-")
        said = {
            "iso": day,
            "dmy": f"{of_month}/{month}/{year}",
            "mdy": f"{month}/{of_month}/{year}",
        }[order]
        writer.writerow([ray, said, posture, depth.replace(".", ",") if is_comma else depth])
    made.write(end * blanks)
    if notes:
        made.write(end + end.join(notes) + end)
    with tempfile.TemporaryDirectory() as room:
        path = laid(Path(room), "scans.csv", made.getvalue().encode(encoding))
        proposal = look(path, "scans.csv", table(), None, {}, Limits())
        # What nothing in the file tells is asked, and answered by whoever dressed it.
        answers = {}
        for one in proposal.asked:
            assert one.key in {"dates:1", "decimal:3"}
            answers[one.key] = order if one.key == "dates:1" else "comma"
        recipe = recipe_of(proposal, answers)
        done = convert_here(path, recipe, Path(room) / "out", Limits())
        text = (Path(room) / "out").read_bytes().decode()
    assert text == _plain(rows)
    assert done.rows == len(rows)
    assert sum(count for _, _, count in done.row_map) == len(rows)
