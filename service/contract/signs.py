"""Signs nobody sees: they turn a text around, or make two names that look alike differ. None gets in."""

import unicodedata
from collections.abc import Iterator
from typing import Any

from service.contract.problem import FieldError, escaped, invalid

HIDDEN = frozenset(("Cf", "Zl", "Zp", "Cs"))
"""Unicode categories: format (bidirectional, zero width), line and paragraph separator, half a surrogate pair."""
RIGHT = "visible characters, spaces and line breaks"


def refuse_hidden(document: Any, body: bytes) -> None:
    """Refuse a document that holds hidden signs. ``body`` is what was read: most bodies cannot hold any.

    Raises:
        ProblemError: 422, pointing to each text that holds one.
    """
    if body.isascii() and b"\\u" not in body:
        return
    found = tuple(_hidden(document, ""))
    if found:
        raise invalid(found)


def hidden_sign(text: str) -> str | None:
    """The first hidden sign as U+XXXX with its name, or None."""
    if text.isprintable():
        return None
    sign = next((sign for sign in text if unicodedata.category(sign) in HIDDEN), None)
    return sign and f"U+{ord(sign):04X} {unicodedata.name(sign, 'without a name').lower()}"


def sign_error(pointer: str, sign: str) -> FieldError:
    """The refusal of one text."""
    return FieldError(pointer, "control_character", f"the text holds a sign that nobody sees: {sign}", RIGHT)


def _hidden(node: Any, pointer: str) -> Iterator[FieldError]:
    """Every text, and every key, that holds a hidden sign."""
    if isinstance(node, str):
        sign = hidden_sign(node)
        if sign is not None:
            yield sign_error(pointer, sign)
    elif isinstance(node, list):
        for index, item in enumerate(node):
            yield from _hidden(item, f"{pointer}/{index}")
    elif isinstance(node, dict):
        for key, value in node.items():
            below = f"{pointer}/{escaped(key)}"
            sign = hidden_sign(key)
            if sign is not None:
                yield sign_error(below, sign)
            yield from _hidden(value, below)
