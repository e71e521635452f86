"""The label of a sample, to be printed and stuck on the bag: the code large and as a QR code, office, use, date.

No name stands on it: whoever holds the bag learns who brought it from the office alone.
"""

import base64
import hashlib
from html import escape
from typing import NamedTuple

import segno

from service.render.words import Words

WIDTH, HEIGHT = 90, 40
MARGIN, CODE = 4, 25
"""Millimetres. The code keeps its quiet zone of four modules (ISO/IEC 18004)."""
LONGEST = 46
FONT = 'font-family="DejaVu Sans, Arial, sans-serif"'
MONO = 'font-family="DejaVu Sans Mono, Consolas, monospace"'
STYLE = "@page{margin:10mm}body{margin:0}svg{display:block;border:1px dashed #888}@media print{svg{border:0}}"


class Label(NamedTuple):
    """What stands on a label; ``day`` is ISO 8601."""

    label: str
    office: str
    use: str
    day: str
    words: Words


def label_svg(label: Label) -> str:
    """The label as an SVG of 90 by 40 mm."""
    words = label.words
    lines = (label.office, words.word("sampling_use", label.use), f"{words.text('label.taken_in')} {label.day}")
    left = MARGIN + CODE + 3
    said = "".join(
        f'<text x="{left}" y="{23 + 5 * row}" {FONT} font-size="3.4">{escape(_short(line))}</text>'
        for row, line in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}mm" height="{HEIGHT}mm" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(label.label)}">'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>{_code(label.label)}'
        f'<text x="{left}" y="14" {MONO} font-size="9" font-weight="bold" textLength="{WIDTH - left - MARGIN}" '
        f'lengthAdjust="spacingAndGlyphs">{escape(label.label)}</text>{said}</svg>'
    )


def label_html(label: Label) -> tuple[str, str]:
    """The label as a page, and the content policy that allows its style and nothing else."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; frame-ancestors 'none'"
    title = escape(label.label)
    html = (
        f'<!doctype html>\n<html lang="{label.words.language}">\n<head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{STYLE}</style></head>\n<body>{label_svg(label)}</body>\n</html>\n"
    )
    return html, policy


def _code(text: str) -> str:
    """The QR code, error correction M: a label gets wet and dirty."""
    code = segno.make(text, error="m", micro=False, boost_error=True)
    size = code.symbol_size(border=4)[0]
    path = code.svg_inline(border=4, omitsize=True, svgclass=None, lineclass=None)
    top = (HEIGHT - CODE) / 2
    inner = path[path.index(">") + 1 : path.rindex("</svg>")]
    return (
        f'<svg x="{MARGIN - 2}" y="{top}" width="{CODE + 3}" height="{CODE}" viewBox="0 0 {size} {size}">{inner}</svg>'
    )


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
