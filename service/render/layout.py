"""Plain text at 80 columns: headings, paragraphs, lists, label-value pairs and tables."""

from collections.abc import Iterable, Sequence
from textwrap import wrap

WIDTH = 80
LABEL = 26


class Paper:
    """Lines of a report, written from top to bottom."""

    def __init__(self) -> None:
        self._lines: list[str] = []

    def __str__(self) -> str:
        return "\n".join(self._lines).strip("\n") + "\n"

    def title(self, left: str, right: str = "") -> None:
        """The head of the report, a date at its right edge, ruled off."""
        gap = WIDTH - len(left) - len(right)
        self._lines += [f"{left}{' ' * max(gap, 1)}{right}".rstrip(), "=" * WIDTH]

    def heading(self, text: str) -> None:
        """A heading in capitals with a blank line above."""
        self._lines += ["", text.upper(), "-" * min(len(text), WIDTH)]

    def gap(self) -> None:
        """A blank line."""
        self._lines.append("")

    def paragraph(self, text: str, indent: str = "") -> None:
        """Wrapped text."""
        self._lines += wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)

    def items(self, texts: Iterable[str], numbered: bool = False, indent: str = "") -> None:
        """A list, each item hanging from its number or dash."""
        for number, text in enumerate(texts, 1):
            mark = f"{indent}{number}. " if numbered else f"{indent}- "
            self._lines += wrap(text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))

    def pair(self, label: str, text: str, indent: str = "") -> None:
        """A label and its value in two columns; a long label takes a line of its own."""
        head = f"{indent}{label}:"
        if not text:
            return
        if len(head) >= LABEL:
            self._lines.append(head)
            head = ""
        self._lines += wrap(text, WIDTH, initial_indent=head.ljust(LABEL), subsequent_indent=" " * LABEL)

    def table(self, head: Sequence[str], rows: Iterable[Sequence[str]], widths: Sequence[int]) -> None:
        """A table with fixed column widths (the last takes what is left); cells wrap inside their column."""
        last = WIDTH - sum(widths) - 2 * len(widths)
        columns = (*widths, last)
        self._row(head, columns)
        self._lines.append("  ".join("-" * width for width in columns))
        for row in rows:
            self._row(row, columns)

    def _row(self, cells: Sequence[str], widths: Sequence[int]) -> None:
        columns = [wrap(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
        for line in range(max(map(len, columns))):
            parts = (column[line] if line < len(column) else "" for column in columns)
            padded = "  ".join(part.ljust(width) for part, width in zip(parts, widths, strict=True))
            self._lines.append(padded.rstrip())
