"""The domain's exceptions: one base class, one sentence each."""


class AgronomyError(Exception):
    """Anything the pure floor refuses to compute."""


class UnknownUnit(AgronomyError):
    """A unit that is not in the unit table."""


class UnitMismatch(AgronomyError):
    """A unit that cannot express the quantity asked for without knowing more (ion, depth, bulk density)."""


class OutOfRange(AgronomyError):
    """An input outside the range in which the equation is defined.

    Attributes:
        field: name of the argument at fault.
        expected: what would be right, as a short machine-readable phrase such as ``"0 <= x <= 14"``.
    """

    def __init__(self, field: str, expected: str) -> None:
        super().__init__(f"{field}: {expected}")
        self.field = field
        self.expected = expected


class TableError(AgronomyError):
    """A table cannot answer although it should: a row is missing or contradicts another."""
