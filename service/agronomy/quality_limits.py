"""Tolerances of the checks on laboratory figures, from the table ``quality-limits``."""

from collections.abc import Mapping

from service.agronomy.errors import TableError
from service.agronomy.tables import CheckLimitRow, FactorRow, Library
from service.agronomy.units import scaled


class Limits:
    """The table, prepared once: ``library.index(Limits.of)``."""

    __slots__ = ("_rows", "cations_per_ec", "scaled")

    def __init__(self, rows: Mapping[tuple[str, str], CheckLimitRow], cations_per_ec: float) -> None:
        self._rows = rows
        self.scaled = {key: scaled(row.value) for key, row in rows.items()}
        self.cations_per_ec = cations_per_ec

    @classmethod
    def of(cls, library: Library) -> "Limits":
        """Prepare ``quality-limits`` and the rule of thumb ``cations_per_ec`` (meq/L for each dS/m) they are for."""
        factors = {row.factor: row.value for row in library.rows("factors", FactorRow)}
        rows = {(row.check, row.limit): row for row in library.rows("quality-limits", CheckLimitRow)}
        return cls(rows, factors["cations_per_ec"])

    def figure(self, check: str, limit: str) -> float:
        """One tolerance. Raises TableError for a row that was never shipped."""
        return self.row(check, limit).value

    def row(self, check: str, limit: str) -> CheckLimitRow:
        """One tolerance with its sources. Raises TableError for a row that was never shipped."""
        found = self._rows.get((check, limit))
        if found is None:
            raise TableError(f"quality-limits has no row {check}, {limit}")
        return found
