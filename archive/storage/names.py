"""Names that survive every file system, archive format and spreadsheet they may travel through."""

import re
import unicodedata
from collections.abc import Iterable

from registry.errors import Unsound

LONGEST = 100
"""The longest name of one file or folder, in characters."""

DEEPEST = 8
"""The most names in one path."""

_PLAIN = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]*")
_RESERVED = frozenset(
    ["con", "prn", "aux", "nul"]
    + [f"{port}{number}" for port in ("com", "lpt") for number in range(10)]
)


def check_name(name: str) -> str:
    """Give the name back when it is sound as the name of one file or folder.

    Parameters
    ----------
    name : str
        One name, without a folder.

    Returns
    -------
    str
        The same name.

    Raises
    ------
    Unsound
        With the complaint under the field "name".

    Examples
    --------
    >>> check_name("pebbles_2026.csv")
    'pebbles_2026.csv'
    """
    complaint = _complaint(name)
    if complaint:
        shown = name if len(name) <= LONGEST else f"{name[:LONGEST]}…"
        raise Unsound(
            f"The file name {shown!r} cannot be used.",
            f"It {complaint}.",
            "Rename the file with letters, digits, dots, hyphens and underscores, and send it"
            " again.",
            fields={"name": complaint},
        )
    return name


def _complaint(name: str) -> str:
    if not name:
        return "is empty"
    if name != unicodedata.normalize("NFC", name):
        return "is written with separate accents (not in Unicode form NFC)"
    if len(name) > LONGEST:
        return f"is longer than {LONGEST} characters"
    if name.startswith((".", "-")):
        return "begins with a dot or a hyphen"
    if not _PLAIN.fullmatch(name):
        return "holds a character other than A-Z, a-z, 0-9, dot, hyphen and underscore"
    if name.endswith("."):
        return "ends with a dot"
    if name.split(".", maxsplit=1)[0].lower() in _RESERVED:
        return "is a name that some operating systems keep for a device"
    return ""


def check_path(path: str) -> str:
    """Give the path back when each of its names is sound and it stays where it is put.

    Parameters
    ----------
    path : str
        A relative path with forward slashes.

    Returns
    -------
    str
        The same path.

    Raises
    ------
    Unsound
        When it is empty, absolute, too deep, or holds an unsound name.

    Examples
    --------
    >>> check_path("data/pebbles.csv")
    'data/pebbles.csv'
    """
    names = path.split("/")
    if len(names) > DEEPEST:
        raise Unsound(
            f"The path {path!r} cannot be used.",
            f"It is deeper than {DEEPEST} folders.",
            "Put the files in fewer folders and send them again.",
            fields={"name": "is too deep"},
        )
    for name in names:
        check_name(name)
    return path


def check_paths(paths: Iterable[str]) -> list[str]:
    """Give the paths, sorted, when they are sound and can stand side by side on any disk.

    Raises
    ------
    Unsound
        When one is unsound, when two differ in nothing but capitals, or when one names as a file
        what another names as a folder.
    """
    given = sorted(paths)
    files: dict[str, str] = {}
    folders: dict[str, str] = {}
    for path in given:
        folded = check_path(path).lower()
        parts = folded.split("/")
        above = ["/".join(parts[:depth]) for depth in range(1, len(parts))]
        rival = files.get(folded) or folders.get(folded)
        rival = rival or next((files[name] for name in above if name in files), None)
        if rival is not None:
            raise Unsound(
                f"{rival!r} and {path!r} cannot be kept side by side.",
                "Some disks hold them for the same place.",
                "Rename one of them and send them again.",
                fields={"name": f"clashes with {rival}"},
            )
        files[folded] = path
        folders.update(dict.fromkeys(above, path))
    return given
