"""What is wrong with a table or crop file, said so that its author can mend it."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Fault:
    """One fault: where it is, what is wrong, what would be right."""

    file: Path
    line: int | None
    column: str | None
    wrong: str
    right: str

    def __str__(self) -> str:
        place = str(self.file)
        if self.line is not None:
            place += f", line {self.line}"
        if self.column:
            place += f", {'key' if self.file.suffix == '.toml' else 'column'} {self.column}"
        return f"{place}: {self.wrong}; expected {self.right}"


class CatalogError(Exception):
    """The tables cannot be used. The service refuses to start and lists every fault."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults
