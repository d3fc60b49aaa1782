"""Text that was saved, or read, in another encoding than UTF-8."""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import Unmangle, unmangled
from archive.engine.corrections.files import Recode

BLOCK = 1 << 20
NAMES = {"cp1252": "the old Windows encoding", "mac_roman": "the old Macintosh encoding"}
_SIGNS = re.compile("[°µ±²³½¼¾×–—‘’“”…•€£§ª«»¿¡·\u00a0]")


class OtherEncoding:
    """Suspects a file that was saved in an old encoding, or in UTF-16."""

    kind: ClassVar[str] = "other-encoding"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Read the file in the old encodings where it is not UTF-8."""
        if not sheet.has("encoding-error") and not sheet.has("nul-character"):
            return
        encoding, sample, refused = _encoding_of(sheet.path)
        if not encoding and not refused:
            return
        said = "UTF-16" if encoding == "utf-16" else NAMES.get(encoding, "an old encoding")
        yield Suspicion(
            kind=self.kind,
            what=f"The file seems to be saved in {said}, not in UTF-8.",
            why=(
                "It begins as UTF-16 does."
                if encoding == "utf-16"
                else f"Read so, its letters make sense: {listed(sample)}."
                if sample
                else "It holds letters that are not UTF-8."
            ),
            remedy="Save the table as “CSV UTF-8” in the spreadsheet.",
            table=sheet.table,
            rows=shown_rows(sheet.fault("encoding-error").rows),
            count=1,
            correction=Recode(encoding) if encoding else None,
            refused=refused,
        )


def _encoding_of(path: Path) -> tuple[str, list[str], str]:
    """Give the one encoding in which the file makes sense, words that show it, and any doubt."""
    with path.open("rb") as file:
        if file.read(2) in {b"\xff\xfe", b"\xfe\xff"}:
            return "utf-16", [], ""
    words = _high_words(path)
    if words is None:
        return "", [], ""
    fits = {
        name: said
        for name in NAMES
        if (said := _read(words, name)) is not None and all(map(_makes_sense, said))
    }
    readings = {tuple(said) for said in fits.values()}
    if len(readings) == 1:
        name, said = next(iter(fits.items()))
        return name, said, ""
    return "", [], "The letters can be read in several ways, and only you know which is right."


def _high_words(path: Path) -> list[bytes] | None:
    """Give the words with letters beyond ASCII; None where the file is no text at all."""
    words: dict[bytes, None] = {}
    with path.open("rb") as file:
        while block := file.read(BLOCK):
            if b"\0" in block:
                return None
            for found in re.finditer(
                rb"[A-Za-z0-9]{0,20}[\x80-\xff][A-Za-z0-9\x80-\xff]{0,20}", block
            ):
                if len(words) < 1_000:
                    words.setdefault(found.group())
    return list(words)


def _read(words: Sequence[bytes], encoding: str) -> list[str] | None:
    try:
        return [word.decode(encoding) for word in words]
    except UnicodeDecodeError:
        return None


def _makes_sense(word: str) -> bool:
    """Whether letters beyond ASCII are letters of words or usual signs, capitals only in front."""
    for at, sign in enumerate(word):
        if ord(sign) < 128 or _SIGNS.match(sign):
            continue
        before = word[at - 1] if at else ""
        if not sign.isalpha() or ord(sign) > 0x17F or (sign.isupper() and before.islower()):
            return False
    return True


class Mangled:
    """Suspects UTF-8 that was read as something else and saved again ("Ã©" for "é")."""

    kind: ClassVar[str] = "mangled-letters"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look for pairs of letters that only such a mistake makes."""
        found: dict[str, tuple[int, int]] = {}
        columns = []
        for name, column in sheet.columns.items():
            odd = [value for value in column.values if unmangled(value) != value]
            found |= {value: (column.first[value], column.values[value]) for value in odd}
            columns += [name] if odd else []
        found |= {label: (1, 1) for label in sheet.labels if unmangled(label) != label}
        if found:
            yield Suspicion(
                kind=self.kind,
                what="Letters beyond a to z were mangled on the way.",
                why=f"{listed(f'{v}” for “{unmangled(v)}' for v in found)}.",
                remedy=(
                    "Open the first file, from before it was mangled, choosing UTF-8 when you are"
                    " asked for its encoding, and save it as “CSV UTF-8” again."
                ),
                table=sheet.table,
                columns=tuple(columns),
                rows=shown_rows([row for row, _ in found.values()]),
                count=sum(count for _, count in found.values()),
                correction=Unmangle(),
            )
