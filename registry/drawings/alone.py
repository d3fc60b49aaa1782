"""A drawing that stands by itself: the house's light paints inside, as a file to take away."""

import re

_PAINTS = """
svg{background:#fdfcf9}
text{font:500 13px "Ysabeau Office","Gill Sans","Segoe UI",sans-serif;fill:#45494b}
.tx{fill:#17191a}.tb{fill:#17191a;font-weight:650}.tq{fill:#5d6264}
.e{text-anchor:end}.m{text-anchor:middle}
.kl{stroke:#17191a;stroke-width:3;fill:none}.k1{stroke:#17191a;stroke-width:1;fill:none}
.k15{stroke:#17191a;stroke-width:1.5;fill:none}.k2{stroke:#17191a;stroke-width:2;fill:none}
.kh{stroke:#cbc9be;stroke-width:1;fill:none}.kr{stroke:#8a8980;stroke-width:1;fill:none}
.kd{stroke:#17191a;stroke-width:1.25;fill:none;stroke-dasharray:2 4;stroke-linecap:round}
.dn{fill:#17191a;stroke:#17191a;stroke-width:1.5}.dn0{fill:#17191a}
.ho{fill:#fdfcf9;stroke:#17191a;stroke-width:1.5}
.p1{fill:#e9e7dd}.p2{fill:#cbc9be}.p3{fill:#999890}.p4{fill:#4d4e48}.p5{fill:#17191a}
.inv{fill:#fdfcf9;font-weight:600}
.tintbox{fill:#edece4}
"""


def alone(svg: str, title: str) -> str:
    """Give a drawing as a file of its own.

    Parameters
    ----------
    svg : str
        As the other functions give it, at one width.
    title : str
        Plain words; it stands in the file for whoever cannot see it.

    Examples
    --------
    >>> alone('<svg class="plot" viewBox="0 0 9 9" role="img"></svg>', "A & B")[:60]
    '<svg xmlns="http://www.w3.org/2000/svg" class="plot" viewBox'
    """
    said = title.replace("&", "&amp;").replace("<", "&lt;")
    found = re.match(r"<svg([^>]*)>", svg)
    assert found is not None
    size = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', found[1])
    sized = f' width="{size[1]}" height="{size[2]}"' if size else ""
    opening = f'<svg xmlns="http://www.w3.org/2000/svg"{found[1]}{sized}>'
    return f"{opening}<title>{said}</title><style>{_PAINTS}</style>{svg[found.end() :]}"
