"""Proposes how a text is read: its encoding, its quotes, what stands between its cells."""

from pathlib import Path

from archive.engine.intake import text
from archive.engine.intake.decisions import Choice, Option
from archive.engine.intake.desk import Desk
from archive.engine.intake.grid import TextGrid
from archive.engine.intake.recipe import DELIMITER_WORDS, QUOTE_WORDS
from registry.errors import Unsound


def open_text(desk: Desk, path: Path) -> TextGrid:
    """Propose how a text is cut into cells, and cut it so."""
    last = desk.last
    coding = text.coding_of(path)
    options = tuple(Option(name, text.ENCODINGS[name], note) for name, note in coding.notes.items())
    encoding = desk.decide(
        "encoding",
        Choice(
            "In which encoding is the file?",
            coding.chosen,
            coding.reason,
            coding.confidence,
            options,
        ),
        last.encoding if last else None,
    )
    head = text.head_of(path, encoding)
    quote, why = text.quote_of(head)
    if fault := _unpaired(desk, path, encoding, quote):
        quote, why = "none", f"Quotes do not pair, so they are signs like others. {fault}"
    quotes = tuple(Option(sign, words.capitalize()) for sign, words in QUOTE_WORDS.items())
    quote_choice = Choice("How are cells quoted?", quote, why, 0.9, quotes)
    heard = desk.answers.get("quote") or quote
    delimiter = _delimiter(desk, head, heard)
    quote = desk.decide("quote", quote_choice, last.quote if last else None)
    return TextGrid(path, encoding, delimiter, quote, desk.limits)


def _unpaired(desk: Desk, path: Path, encoding: str, quote: str) -> str:
    """Say where the quotes of the whole file do not pair; what cuts the cells matters not."""
    try:
        for _ in text.rows_of(
            path, encoding, _best(desk, path, encoding, quote), quote,
            cell_bytes=desk.limits.cell_bytes,
        ):  # fmt: skip
            pass
    except Unsound as fault:
        if "quotes" in fault.why:
            return fault.why
        raise
    return ""


def _best(desk: Desk, path: Path, encoding: str, quote: str) -> str:
    return text.cuts_of(text.head_of(path, encoding), quote, _names(desk))[0].delimiter


def _names(desk: Desk) -> set[str]:
    return {one.casefold() for field in desk.fields for one in (field.name, field.title) if one}


def _delimiter(desk: Desk, head: str, quote: str) -> str:
    cuts = text.cuts_of(head, quote, _names(desk))
    best, second = cuts[0], cuts[1]
    options = tuple(
        Option(
            cut.delimiter,
            DELIMITER_WORDS[cut.delimiter].capitalize(),
            f"{cut.width} columns in {cut.share:.0%} of the first rows"
            if cut.width > 1
            else "It does not part the rows",
        )
        for cut in cuts
    )
    if best.width == 1:
        reason, sure = "There is one column only, so that nothing has to part cells.", 0.6
        best = next(cut for cut in cuts if cut.delimiter == ",")
    else:
        reason = (
            f"It parts {best.share:.0%} of the first rows into {best.width} columns each;"
            f" the next best, the {DELIMITER_WORDS[second.delimiter]}, parts"
            f" {second.share if second.width > 1 else 0:.0%}."
        )
        sure = 0.95 if best.score - second.score > 0.3 else 0.6
    choice = Choice("What stands between the cells?", best.delimiter, reason, sure, options)
    return desk.decide("delimiter", choice, desk.last.delimiter if desk.last else None)
