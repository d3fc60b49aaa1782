"""A drawing as a file to take away: SVG as it is, PDF and PNG set from it."""

import tempfile
from pathlib import Path

import typst
from django.http import HttpResponse
from django.utils.translation import gettext as _

from registry.errors import Unseen

_PAGE = """#set document(title: {title}, date: none)
#set page(width: {width}pt, height: auto, margin: 8pt, fill: rgb("#fdfcf9"))
#image("drawing.svg", alt: {title}, width: 100%)
"""
MEDIA = {"svg": "image/svg+xml", "pdf": "application/pdf", "png": "image/png"}
WIDTH_PT = 560
DOTS_PER_INCH = 220


def picture(svg: str, form: str, *, title: str) -> bytes:
    """Give a drawing in one of the forms of `MEDIA`.

    Parameters
    ----------
    svg : str
        A whole file, with its paints inside.
    form : {"svg", "pdf", "png"}
    title : str
        Stands in the file for whoever cannot see it.
    """
    if form == "svg":
        return svg.encode()
    with tempfile.TemporaryDirectory(prefix="picture-") as place:
        folder = Path(place)
        folder.joinpath("drawing.svg").write_text(svg, encoding="utf-8")
        page = _PAGE.format(title=_quoted(title), width=WIDTH_PT)
        folder.joinpath("page.typ").write_text(page, encoding="utf-8")
        made = typst.compile(
            folder / "page.typ",
            root=folder,
            format="png" if form == "png" else "pdf",
            ppi=float(DOTS_PER_INCH),
        )
    assert isinstance(made, bytes)
    return made


def _quoted(said: str) -> str:
    """Write words as a text of the setter's language, which evaluates none of them."""
    return '"' + said.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'


def picture_answer(svg: str, form: str, *, title: str, name: str) -> HttpResponse:
    """Send a drawing as a file.

    Raises
    ------
    Unseen
        Where there is no such form.
    """
    if form not in MEDIA:
        raise Unseen(
            "There is no figure in that form.",
            _("It is given as %(media)s.") % {"media": ", ".join(MEDIA)},
            "Ask so.",
        )
    answer = HttpResponse(picture(svg, form, title=title), content_type=MEDIA[form])
    answer["Content-Disposition"] = f'attachment; filename="{name}.{form}"'
    return answer
