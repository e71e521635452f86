"""An address as a QR code (ISO/IEC 18004), to be printed."""

from io import BytesIO

import segno

EDGE = 4
"""Modules of white around the code, as the standard wants it."""


def qr_svg(address: str) -> str:
    """The code as an SVG image that scales; error correction M, which survives a fold in the paper."""
    out = BytesIO()
    segno.make_qr(address, error="m").save(
        out, kind="svg", xmldecl=False, omitsize=True, border=EDGE, svgclass=None, lineclass=None
    )
    return out.getvalue().decode().strip()
