"""What a front end sends, after its shape has been checked and before anything is understood.

Every field keeps the name it has in the public contract. ``None`` always means *not said*, never zero or no.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple


class Quantity(NamedTuple):
    """A number with its unit, spelled as the client or the table spelled it."""

    value: float
    unit: str


class Depth(NamedTuple):
    """A layer of soil, measured from the surface; ``unit`` is a length."""

    top: float
    bottom: float
    unit: str


class Result(NamedTuple):
    """One reported value: analyte + method + value + unit (+ ``<`` or ``>``), or a class word in ``text``."""

    analyte: str
    method: str | None = None
    value: float | None = None
    unit: str | None = None
    qualifier: str | None = None
    text: str | None = None
    depth: Depth | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """The spot a sample was taken from; ties samples together over the years."""

    id: str
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Sample:
    """The bag of soil: where, when and how it was taken and handled."""

    laboratory: str | None = None
    lab_number: str | None = None
    revision: int = 1
    label: str | None = None
    place: Place | None = None
    taken_on: date | None = None
    depth: Depth | None = None
    cores: int | None = None
    received_on: date | None = None
    tool: str | None = None
    container: str | None = None
    handling: str | None = None
    material: str | None = None
    mixed_areas: bool | None = None
    fertilized_within_days: int | None = None
    comment: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """How the target is kept; every field optional."""

    maintenance: str | None = None
    clippings: str | None = None
    irrigated: bool | None = None
    overseeded: bool | None = None
    in_turf: bool | None = None
    organic_only: bool | None = None
    age_years: float | None = None
    trunk_diameter: Quantity | None = None
    livestock: bool | None = None
    use: str | None = None


@dataclass(frozen=True, slots=True)
class Target:
    """What grows or will grow there, on how much ground."""

    crop: str | None = None
    stage: str | None = None
    area: Quantity | None = None
    yield_goal: Quantity | None = None
    condition: Condition = Condition()


@dataclass(frozen=True, slots=True)
class Amended:
    """One past application of an amendment, manure or fertilizer."""

    material: str
    on: date | None = None
    amount: Quantity | None = None


@dataclass(frozen=True, slots=True)
class OrganicInput:
    """Manure, compost or mulch that is put on regularly or is planned."""

    material: str
    depth: Quantity | None = None
    amount: Quantity | None = None
    per: str | None = None


@dataclass(frozen=True, slots=True)
class Well:
    """A private well near the target."""

    distance: Quantity | None = None
    infant: bool | None = None


@dataclass(frozen=True, slots=True)
class IrrigationWater:
    """Irrigation water with its own analysis and, if known, the depth applied in a season."""

    results: tuple[Result, ...] = ()
    applied: Quantity | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Site:
    """The ground around the sample: region, history, water, symptoms, wishes."""

    region: str | None = None
    county: str | None = None
    zone: str | None = None
    elevation: Quantity | None = None
    slope_pct: float | None = None
    surface_water_distance: Quantity | None = None
    previous_crop: str | None = None
    amended: tuple[Amended, ...] = ()
    texture: str | None = None
    drainage: str | None = None
    hard_layer_depth: Quantity | None = None
    symptoms: tuple[str, ...] = ()
    observations: Mapping[str, str] = field(default_factory=dict)
    house_built: int | None = None
    children: bool | None = None
    well: Well | None = None
    irrigation_water: IrrigationWater | None = None
    organic_inputs: tuple[OrganicInput, ...] = ()
    requests: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OwnProduct:
    """A product that the client can buy, from its label: a grade, or a material of the table.

    ``price`` is for one bag. ``slow_release_pct`` is the share of its nitrogen that is released slowly.
    ``chloride``: whether its potash is the chloride; ``None`` where the label does not tell.
    """

    id: str
    grade: str | None = None
    material: str | None = None
    bag: Quantity | None = None
    price: float | None = None
    slow_release_pct: float | None = None
    chloride: bool | None = None


@dataclass(frozen=True, slots=True)
class AtHand:
    """What the client has already and would use first: a material of the table, or a grade."""

    amount: Quantity
    material: str | None = None
    grade: str | None = None


@dataclass(frozen=True, slots=True)
class MaterialWishes:
    """How materials are to be chosen. ``only``: ids of materials and of own products; blank for any."""

    objective: str = "few_products"
    only: tuple[str, ...] = ()
    whole_bags: bool = False
    most_products: int | None = None
    at_hand: tuple[AtHand, ...] = ()
    products: tuple[OwnProduct, ...] = ()


@dataclass(frozen=True, slots=True)
class Options:
    """How to answer: date, units, language, calibration, pinned editions, and how to choose materials."""

    as_of: date | None = None
    units: str = "us_garden"
    language: str = "en"
    calibration: str | None = None
    editions: Mapping[str, str] = field(default_factory=dict)
    materials: MaterialWishes | None = None


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier sample of the same place, sent along for comparison."""

    taken_on: date
    results: tuple[Result, ...]
    depth: Depth | None = None
    laboratory: str | None = None


@dataclass(frozen=True, slots=True)
class Submission:
    """One sample, its results, one target, the site and the options."""

    sample: Sample
    results: tuple[Result, ...]
    target: Target
    site: Site = Site()
    options: Options = Options()
    earlier: tuple[Earlier, ...] = ()
