"""What one calculation was given: inputs in working units, the tables, and what is told on the way."""

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from service.agronomy.errors import AgronomyError, UnitMismatch, UnknownUnit
from service.agronomy.findings import Note
from service.agronomy.ledger import Ledger
from service.agronomy.materials.problem import Solver
from service.agronomy.reference import Reference, reference_of
from service.agronomy.submission import Quantity
from service.agronomy.tables import FactorRow, Library
from service.agronomy.units import METRES_PER_INCH, Units, significant

DIGITS = 6
"""Significant digits of a result: enough for a program to work on with, few enough that float noise never shows."""
SMALL_M2 = 1000.0
"""Up to this area metric rates are g/m2, above it kg/ha."""
MM_PER_INCH = METRES_PER_INCH * 1000


class WrongInput(AgronomyError):
    """An input that the calculation cannot take.

    Attributes:
        field: name of the input, or the way below it as `below` makes it; blank for the request as a whole.
        code: what is wrong, for programs.
        expected: what would be right, as a short machine-readable phrase.
        allowed: the closed list it must come from, where there is one.
        suggestions: members of that list that look like what was sent.
    """

    def __init__(
        self,
        field: str,
        code: str,
        expected: str,
        allowed: tuple[str, ...] = (),
        suggestions: tuple[str, ...] = (),
    ) -> None:
        super().__init__(f"{field}: {code}, {expected}")
        self.field, self.code, self.expected = field, code, expected
        self.allowed, self.suggestions = allowed, suggestions


def below(field: str, key: str) -> str:
    """A member of an object or of its member, as a JSON pointer (RFC 6901) without its first slash."""
    return f"{field}/{key.replace('~', '~0').replace('/', '~1')}"


class Given:
    """The inputs of one request beside the tables.

    Answers come in the units that the inputs came in: metric where area, rate or depth are metric; per 1,000 ft2 where
    the area or the rate is given by square feet; per acre otherwise.
    """

    def __init__(self, inputs: Mapping[str, Any], library: Library, solver: Solver | None = None) -> None:
        self.inputs = inputs
        self.library = library
        self.solver = solver
        self.units = library.index(Units.of)
        self.reference: Reference = reference_of(library)
        self.ledger = Ledger(True)
        self.warnings: list[Note] = []

    def __contains__(self, name: str) -> bool:
        return name in self.inputs

    def __getitem__(self, name: str) -> Any:
        return self.inputs[name]

    def get(self, name: str) -> Any:
        """An input, or None when it was not sent."""
        return self.inputs.get(name)

    def above_zero(self, *names: str) -> None:
        """Refuse quantities of nothing, of those that were sent. Raises WrongInput."""
        for name in names:
            if name in self.inputs and self.inputs[name].value <= 0:
                raise WrongInput(f"{name}/value", "out_of_range", "0 < x")

    def inches(self, name: str) -> float:
        """A length in inches."""
        return self.units.inches(self.inputs[name])

    def mm(self, name: str) -> float:
        """A length in mm."""
        return self.inches(name) * MM_PER_INCH

    def g_m2(self, name: str) -> float:
        """A rate in g/m2."""
        return self.units.areal(self.inputs[name])

    @cached_property
    def area_m2(self) -> float | None:
        """The area in m2, if one was sent."""
        area = self.inputs.get("area")
        return None if area is None else self.units.square_metres(area)

    def meq_L(self, field: str, analyte: str, quantity: Quantity, canonical: str = "") -> float:
        """An ion of a solution in meq/L. Raises WrongInput for a unit that cannot express it."""
        try:
            return self.units.express(quantity.value, quantity.unit, "meq/L", "extract", analyte, canonical or analyte)
        except (UnitMismatch, UnknownUnit):
            raise WrongInput(f"{field}/unit", "unit_does_not_fit", "meq/L or mg/L") from None

    def or_default(self, name: str, factor: str) -> float:
        """An input, or else the table's usual figure, and the answer says so."""
        if name in self.inputs:
            return float(self.inputs[name])
        row = self.factor(factor)
        self.warn(f"calc.{name}_assumed", value=row.value)
        return row.value

    def bulk_density(self) -> float:
        """Bulk density as sent, g/cm3, or the usual one with a step and a warning."""
        if "bulk_density_g_cm3" in self.inputs:
            return float(self.inputs["bulk_density_g_cm3"])
        row = self.factor("soil_bulk_density_default")
        self.step("bulk_density_assumed", "mass_per_area", {}, row.value, row.unit, row)
        self.warn("calc.bulk_density_assumed", density=row.value)
        return row.value

    def factor(self, name: str) -> FactorRow:
        """A working figure of the tables."""
        return self.reference.factor(name)

    def coefficients(self, formula: str) -> Mapping[str, float]:
        """The published coefficients of a formula."""
        return self.reference.formula(formula).coefficients

    def step(
        self, step: str, formula: str, inputs: dict[str, Any], value: float | str | bool | None, unit: str, *rows: Any
    ) -> None:
        """Take down one line of reasoning, figures rounded as results are."""
        shown = rounded(value) if isinstance(value, float) else value
        told = {name: rounded(each) if isinstance(each, float) else each for name, each in inputs.items()}
        self.ledger.step(step, formula, told, shown, unit, *rows)

    def warn(self, code: str, **values: Any) -> None:
        """Something that the reader must bear in mind."""
        self.warnings.append(Note(code, values))

    @cached_property
    def system(self) -> str:
        """us_garden, us_field or metric, from the inputs that have a unit: rate, area, then any length."""
        sent = [self.inputs[name] for name in ("rate", "N_rate", "area", "depth", "applied") if name in self.inputs]
        if not sent:
            return "us_field"
        code = self.units.ucum(sent[0].unit)
        if "[" not in code:
            return "metric"
        return "us_garden" if "[sft_i]" in code or "[syd_i]" in code else "us_field"

    def rate(self, g_m2: float) -> Quantity:
        """A rate as the client reads it."""
        if self.system == "metric":
            small = self.area_m2 is not None and self.area_m2 <= SMALL_M2
            return self.in_unit(g_m2, "g/m2", "g/m2" if small else "kg/ha")
        return self.in_unit(g_m2, "g/m2", "lb/1000 ft2" if self.system == "us_garden" else "lb/acre")

    def total(self, g_m2: float) -> Quantity | None:
        """The amount for the whole area, lb or kg; None without an area."""
        if self.area_m2 is None:
            return None
        return self.in_unit(g_m2 * self.area_m2, "g", "kg" if self.system == "metric" else "lb")

    def water(self, mm: float) -> Quantity:
        """A depth of water, in or mm."""
        return self.in_unit(mm, "mm", "mm" if self.system == "metric" else "in")

    def in_unit(self, value: float, unit: str, to: str) -> Quantity:
        """A figure in the unit it is shown in, rounded once."""
        return Quantity(rounded(self.units.convert(value, unit, to)), to)


def rounded(x: float) -> float:
    """A result as it leaves."""
    return significant(x, DIGITS)
