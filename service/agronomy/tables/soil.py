"""Rows about the soil as a body: texture, its properties, the feel of it, the hydrometer."""

from dataclasses import dataclass

from service.agronomy.tables.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class TextureRow(Row):
    """One linear inequality of one alternative of a texture class: sum(coefficient * fraction) operator bound."""

    texture: str
    alternative: int
    sand: float = 0.0
    silt: float = 0.0
    clay: float = 0.0
    operator: str
    bound: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TexturePropertyRow(Row):
    """Working figures for one texture class; ``group`` is coarse, medium or fine."""

    texture: str
    group: str
    saturation_pct_low: float
    saturation_pct_high: float
    available_water_low_in_per_ft: float
    available_water_high_in_per_ft: float
    infiltration_low_in_per_h: float | None = None
    infiltration_high_in_per_h: float | None = None
    bulk_density_low_g_cm3: float
    bulk_density_high_g_cm3: float
    root_limit_low_g_cm3: float | None = None
    root_limit_high_g_cm3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FeelRow(Row):
    """Texture by feel or jar: the words a gardener answers and the classes they fit."""

    test: str
    answers: tuple[str, ...]
    textures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KTableRow(Row):
    """A printed or recomputed figure of the hydrometer method by temperature (and particle density)."""

    quantity: str
    temperature_C: float
    particle_density_g_cm3: float | None = None
    value: float
    printed: float | None = None
