"""Write the catalogue of every string that is marked for translation: registry/locale/django.pot.

    .venv/bin/python .ci/messages.py [FILE]

Templates and Python are read alike, by Babel and by Django's own reader of templates; the gettext
programs need not be there. A translator copies the file to registry/locale/XX/LC_MESSAGES/django.po
and fills it in.
"""

import ast
import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import write_po
from django.conf import settings
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parent.parent
TOPS = ("archive", "registry")
POT = ROOT / "registry" / "locale" / "django.pot"

HEAD = "# Every string of Strandline that is marked for translation."

_PLURAL, _CONTEXT, _BOTH = (1, 2), ((1, "c"), 2), ((1, "c"), 2, 3)
KEYWORDS = {
    "_": None,
    "said": None,  # gettext under another name, where _ is the lazy one
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext": _PLURAL,
    "ngettext_lazy": _PLURAL,
    "npgettext": _BOTH,
    "npgettext_lazy": _BOTH,
    "pgettext": _CONTEXT,
    "pgettext_lazy": _CONTEXT,
}
_NAMED = re.compile(r"%\(\w+\)")
_SENTENCE = re.compile(r"[^a-z%].* .*[.?!”]")
REFUSALS = {
    one.name
    for one in ast.parse((ROOT / "registry" / "errors.py").read_text(encoding="utf-8")).body
    if isinstance(one, ast.ClassDef)
}


def sources(root: Path) -> Iterator[Path]:
    """Give the templates and the Python of the project, in order."""
    for top in TOPS:
        for path in sorted((root / top).rglob("*")):
            is_template = "templates" in path.parts and path.suffix in {".html", ".txt"}
            is_code = path.suffix == ".py" and "migrations" not in path.parts
            if is_template or is_code:
                yield path


def as_python(path: Path, name: str) -> bytes:
    """Give a file's text as Python, which a template is made into line by line."""
    text = path.read_text(encoding="utf-8")
    return (text if path.suffix == ".py" else templatize(text, origin=name)).encode()


def refusals(path: Path) -> Iterator[tuple[int, str]]:
    """Give each plain sentence of a file that refuses, as a refusal says it in every language.

    Docstrings are none, nor is what a mark stands before already, which merely comes twice.
    """
    if path.suffix != ".py":
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = list(ast.walk(tree))
    if not any(isinstance(one, ast.Name) and one.id in REFUSALS for one in nodes):
        return
    plain = {id(one.value) for one in nodes if isinstance(one, ast.Expr)}
    plain |= {id(part) for one in nodes if isinstance(one, ast.JoinedStr) for part in one.values}
    for one in nodes:
        is_text = isinstance(one, ast.Constant) and isinstance(one.value, str)
        if is_text and id(one) not in plain and _SENTENCE.fullmatch(one.value):
            yield one.lineno, one.value


def catalogue(root: Path = ROOT) -> Catalog:
    """Gather every marked string, with the places where it stands and what is said beside it."""
    if not settings.configured:
        settings.configure(USE_I18N=True)
    found = Catalog(project="Strandline", version="0", charset="utf-8", header_comment=HEAD)
    found.fuzzy = False
    for path in sources(root):
        name = path.relative_to(root).as_posix()
        told = extract("python", io.BytesIO(as_python(path, name)), KEYWORDS, ["Translators"], {})
        for line, message, comments, context in told:
            words = message if isinstance(message, str) else message[0]
            flags = ["python-format"] if _NAMED.search(words) else []
            found.add(message, None, [(name, line)], flags, comments, context=context)
        for line, sentence in refusals(path):
            found.add(sentence, None, [(name, line)])
    return found


def main(to: Path = POT) -> None:
    """Write the catalogue, and say how many strings it holds."""
    found = catalogue()
    to.parent.mkdir(parents=True, exist_ok=True)
    with to.open("wb") as file:
        write_po(file, found, width=100, sort_output=True)
    print(f"{len(found)} strings stand in {to}.")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
