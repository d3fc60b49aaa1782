"""A QR code as SVG of ours: paint in the stylesheet's classes, no style and no script in it."""

import qrcode
from django.utils.html import format_html
from django.utils.safestring import SafeString

_BORDER = 4  # the quiet zone that ISO/IEC 18004 asks for, in modules


def qr_svg(text: str, label: str) -> SafeString:
    """Draw a text as a QR code; `label` says what it is to whoever does not see it."""
    code = qrcode.QRCode(border=_BORDER, error_correction=qrcode.constants.ERROR_CORRECT_M)
    code.add_data(text)
    code.make()
    rows = code.get_matrix()
    runs = [
        f"M{x} {y}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, is_dark in enumerate(row)
        if is_dark
    ]
    return format_html(
        '<svg class="qr" viewBox="0 0 {0} {0}" role="img" aria-label="{1}">'
        '<rect width="{0}" height="{0}"/><path d="{2}"/></svg>',
        len(rows),
        label,
        "".join(runs),
    )
