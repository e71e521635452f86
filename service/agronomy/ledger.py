"""What one part of an answer rests on, collected while it is worked out: notes, steps, table rows."""

from typing import Any

from service.agronomy.findings import Note, Step
from service.agronomy.reference import Cited, cite
from service.agronomy.tables import Row

NOT_GATHERED = Cited((), None, None)


class Ledger:
    """Notes for the reader, steps for the expert (only when ``explain``), rows for the citation."""

    __slots__ = ("explain", "given", "notes", "rows", "steps")

    def __init__(self, explain: bool) -> None:
        self.explain = explain
        self.notes: list[Note] = []
        self.steps: list[Step] = []
        self.rows: list[Row] = []
        self.given: tuple[tuple[str, ...], str | None] | None = None

    def note(self, code: str, **values: Any) -> None:
        """Add a message."""
        self.notes.append(Note(code, values))

    def step(
        self, step: str, formula: str, inputs: dict[str, Any], value: float | str | bool | None, unit: str, *rows: Row
    ) -> None:
        """Add one line of reasoning; the rows behind it are cited by the line and by the whole."""
        if self.explain:
            self.rows.extend(rows)
            self.steps.append(Step(step, formula, inputs, value, unit, cite(*rows).sources))

    def use(self, *rows: Row | None) -> None:
        """Cite rows that have no step of their own."""
        if self.explain:
            self.rows.extend(row for row in rows if row is not None)

    def cited(self) -> Cited:
        """Sources, weakest mark and first table of everything used; ``given`` stands in when nothing was.

        Without ``explain`` nobody reads them, so they are not gathered.
        """
        if not self.explain:
            return NOT_GATHERED
        if self.given is not None and not self.rows:
            return Cited(*self.given, None)
        return cite(*self.rows)
