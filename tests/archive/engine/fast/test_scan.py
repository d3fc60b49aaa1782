"""The kernel cuts records as csv.reader does, whatever stands in them and wherever a block ends."""

import csv
import io
import random
from typing import Any

import numpy as np
import pytest

from archive.engine.fast.scan import Layout, cut, unquote

LAYOUTS = [
    ({"delimiter": ","}, Layout(44, 34, False, False)),
    ({"delimiter": ";", "quotechar": "'"}, Layout(59, 39, False, False)),
    ({"delimiter": "\t"}, Layout(9, 34, False, False)),
    ({"delimiter": ",", "skipinitialspace": True}, Layout(44, 34, True, False)),
    (
        {"delimiter": ",", "quoting": csv.QUOTE_NONE, "quotechar": None},
        Layout(44, 256, False, False),
    ),
]
MOST = 40


def records(text: str, layout: Layout, step: int) -> tuple[list[list[str]], bool]:
    """Cut a text that is given in pieces of `step` bytes; say whether some record is stray."""
    data = text.encode()
    start, end = np.zeros(MOST, np.int64), np.zeros(MOST, np.int64)
    odd = np.zeros(MOST, np.uint8)
    found, has_stray = [], False
    # `known` bytes have come so far; a record that may go on waits for more.
    place = 0
    known = step
    while place < len(data):
        known = min(len(data), max(known, place + 1))
        is_last = known == len(data)
        room = np.zeros(known + len(data) + 16, np.uint8)
        room[:known] = np.frombuffer(data[:known], np.uint8)
        after, width, is_stray = cut(room, place, known, is_last, layout, start, end, odd, 0, MOST)
        if after < 0:
            known += step
            continue
        cells = []
        for at in range(width):
            first, last = int(start[at]), int(end[at])
            if odd[at] & 1:
                last = unquote(room, first, last, layout.quote, known)
                first = known
            cells.append(room[first:last].tobytes().decode())
        found.append(cells)
        place, has_stray = after, has_stray or is_stray
    return found, has_stray


def is_strict(text: str, options: dict[str, Any]) -> bool:
    """Say whether strict reading takes it, and no line ends inside a cell."""
    try:
        cells = list(csv.reader(io.StringIO(text, newline=""), strict=True, **options))
    except csv.Error:
        return False
    return not any("\n" in cell or "\r" in cell for row in cells for cell in row)


@pytest.mark.parametrize(("options", "layout"), LAYOUTS)
def test_any_text_is_cut_as_csv_reader_cuts_it_in_one_piece_and_in_many(options, layout):
    draw = random.Random(20260301)
    delimiter, quote = options["delimiter"], options.get("quotechar", '"') or '"'
    signs = ["a", "é", " ", delimiter, delimiter, quote, quote, "\n", "\r", "\r\n", quote * 2, "\0"]
    for _ in range(1_500):
        text = "".join(draw.choices(signs, k=draw.randint(1, 30)))
        expected = list(csv.reader(io.StringIO(text, newline=""), **options))
        for step in (1_000, draw.randint(1, 7)):
            told = (expected, not is_strict(text, options))
            assert records(text, layout, step) == told, (text, step)


def test_a_return_inside_a_quoted_cell_is_noted_for_texts_whose_line_ends_are_translated():
    text = np.frombuffer(b'a,"b\r\nc"\n        ', np.uint8)
    start, end, odd = np.zeros(2, np.int64), np.zeros(2, np.int64), np.zeros(2, np.uint8)
    cut(text, 0, 10, True, Layout(44, 34, False, True), start, end, odd, 0, 2)
    assert odd.tolist() == [0, 2]
