"""What a backup says of itself: what it holds, of which site, and what each piece must be."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

FORMAT = 1
NAME = "manifest.json"
DIGEST_NAME = "manifest.json.sha256"
ABOUT_NAME = "README.txt"
KEY_NAME = "secret-key"
ABOUT = """\
A backup of a Strandline site: its database, its store of versions, its quarantine with the drafts
of people's deposits, and the photographs by which its animals are told apart.

    manage.py backup --check FILE    reads it through and says whether it is whole
    manage.py restore FILE           puts it into an empty site

database/   a table is a file of JSON lines; the manifest names its columns in their order
store/      the versions, an OCFL 1.1 storage root
quarantine/ what was received and not yet accepted, and the drafts
pictures/   photographs of marks, each named by its SHA-256
manifest.json says what each file must be, by its size and its SHA-256

It holds people's names and addresses, the digests of their passwords, and data under embargo: keep
it where only those who keep the site can read it. {key}
"""
KEY_IN = "The site’s secret key is in it: guard it as you guard the site."
KEY_OUT = (
    "The site’s secret key is not in it. Keep that apart: second factors are sealed with it, and"
    " without it whoever has one must set it up anew."
)


@dataclass(frozen=True)
class Table:
    """One table: its model, its columns in the order of the lines, its rows, and its file."""

    model: str
    fields: list[str]
    rows: int
    bytes: int
    sha256: str

    @property
    def path(self) -> str:
        """Where its lines lie in the backup."""
        return f"database/{self.model}.jsonl"


@dataclass(frozen=True)
class Piece:
    """One file of those that stand beside the database; `same_as` names one of the same bytes."""

    path: str
    bytes: int
    sha256: str
    same_as: str = ""


@dataclass(frozen=True)
class Manifest:
    """All that a backup says of itself."""

    program: str
    made_at: str
    vendor: str
    migrations: list[list[str]]
    ledger_number: int
    ledger_digest: str
    tables: list[Table]
    pieces: list[Piece]
    holds_secret_key: bool = False
    format: int = FORMAT
    said: str = field(default="")

    @property
    def bytes_of_files(self) -> int:
        """Bytes of the store, the quarantine and the pictures together."""
        return sum(piece.bytes for piece in self.pieces)

    @property
    def rows(self) -> int:
        """Rows of all tables."""
        return sum(table.rows for table in self.tables)

    def written(self) -> bytes:
        """Give it as the file that stands in the backup."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=1).encode() + b"\n"

    @classmethod
    def read(cls, content: bytes) -> "Manifest":
        """Read it again.

        Raises
        ------
        ValueError
            When it is not what this program writes.
        """
        try:
            shape: Mapping[str, Any] = json.loads(content)
            if shape["format"] != FORMAT:
                raise ValueError(f"its format is {shape['format']!r}, this program's is {FORMAT}")
            whole = cls(
                **{
                    **shape,
                    "tables": [Table(**one) for one in shape["tables"]],
                    "pieces": [Piece(**one) for one in shape["pieces"]],
                }
            )
        except (KeyError, TypeError, AttributeError) as fault:
            raise ValueError(f"its manifest is not as it should be: {fault}") from fault
        texts: list[Any] = [whole.program, whole.made_at, whole.ledger_digest, whole.vendor]
        numbers: list[Any] = [whole.ledger_number, *(one.rows for one in whole.tables)]
        numbers += [one.bytes for one in whole.tables] + [one.bytes for one in whole.pieces]
        is_sound = all(isinstance(text, str) for text in texts)
        if not is_sound or any(not isinstance(one, int) or one < 0 for one in numbers):
            raise ValueError("its manifest is not as it should be")
        return whole
