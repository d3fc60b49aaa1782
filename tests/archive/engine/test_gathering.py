"""What is made of a report's findings: few things to explain, however many rows tell of them."""

from archive.engine import gathering
from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.gathering import EXPLAINED, Gathered, said_of
from archive.engine.reports import Sink


def unknown(row: int, code: str) -> Finding:
    message = f"Row {row:,}: “{code}” was never enrolled in this project."
    return found("not-enrolled", message, table="scans", row=row, field="animal", value=code)


def gathered(*findings: Finding) -> Gathered:
    whole = Gathered()
    for finding in findings:
        whole.take(finding)
    return whole


def test_many_rows_about_one_animal_are_one_thing_to_explain() -> None:
    wrong = found("type-error", "Row 4: no number.", table="scans", row=4, field="depth")
    told = gathered(*(unknown(row, "R-99") for row in range(2, 900)), unknown(900, "R-98"), wrong)
    kept = told.to_explain.kept
    assert [(one.row, one.value) for one in kept] == [(2, "R-99"), (900, "R-98")]
    assert said_of(kept[0]) == (
        "“R-99” was never enrolled in this project (column “animal” of “scans” in the data)."
    )
    assert told.to_explain.more() == {}


def test_beyond_a_hundred_things_of_a_code_the_others_are_counted_and_so_is_their_number_in_the_end(
    monkeypatch,
) -> None:
    codes = [f"R-{number}" for number in range(EXPLAINED + 30)]
    told = gathered(*(unknown(2 + at, code) for at, code in enumerate(codes * 2)))
    assert [one.value for one in told.to_explain.kept] == codes[:EXPLAINED]
    assert told.to_explain.more() == {"not-enrolled": "30"}
    monkeypatch.setattr(gathering, "COUNTED", EXPLAINED + 20)
    told = gathered(*(unknown(2 + at, code) for at, code in enumerate(codes)))
    assert told.to_explain.more() == {"not-enrolled": "more than 20"}


def test_what_is_told_of_a_report_grows_with_its_kinds_of_findings_and_not_with_its_rows() -> None:
    sizes = []
    for rows in (1_000, 4_000):
        sink = Sink()
        sink.take_all(unknown(row, f"R-{row % 7}") for row in range(2, 2 + rows))
        told = gathering.gather(sink.report([], []))
        assert [one["count"] for one in told.summary["entries"]] == [rows]
        assert told.summary["rows_found"] == {"register": rows}
        sizes.append((len(told.to_explain), len(told.summary["findings"]["not-enrolled"])))
    assert sizes[0] == sizes[1] == (7, gathering.SHOWN)
