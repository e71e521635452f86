"""The shape of a submission: every field of the contract, what it may hold, and the dataclass it becomes."""

import re
from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from typing import Any

import marshmallow as ma

from service.agronomy import submission as made_of
from service.agronomy.tables import Library
from service.contract.fields import (
    Choice,
    Crop,
    Day,
    Flag,
    Items,
    Number,
    Part,
    Reading,
    ReadingContext,
    Strict,
    Text,
    Whole,
    fault,
    mapping_of,
    shown,
)
from service.contract.material_wishes import MaterialWishesSchema
from service.contract.problem import invalid
from service.contract.results import DepthSchema, Results, ResultSchema, WaterResultSchema
from service.contract.shape import QuantityOf, Shape, field_errors, refuse
from service.contract.vocabulary import Vocabulary

LANGUAGES = ("en", "es")
MOST_ITEMS = 100
YEAR_AHEAD = 366
_REGION = re.compile(r"[A-Z]{2}(-[A-Z0-9]{1,3})?")


class Region(Text):
    """An ISO 3166 code."""

    right = "a region such as US-UT"

    def read(self, value: Any) -> Any:
        """The code."""
        text = super().read(value)
        if not _REGION.fullmatch(text):
            raise fault("not_a_region", f"{shown(value)} is not a region", "an ISO 3166 code such as US-UT")
        return text


_ZONE = re.compile(r"([1-9]|1[0-3])[ab]?")


class Zone(Text):
    """A plant hardiness zone, with or without its half."""

    right = "a plant hardiness zone from 1 to 13, such as 6 or 6b"

    def read(self, value: Any) -> Any:
        """The zone."""
        text = super().read(value)
        if not _ZONE.fullmatch(text):
            wanted = "a plant hardiness zone from 1 to 13, such as 6 or 6b; the low desert is 9 or 10"
            raise fault("not_a_zone", f"{shown(value)} is not a hardiness zone", wanted)
        return text


class WordMap(Strict, ma.fields.Dict):
    """An object of short texts."""

    right = "an object of texts"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        if value.__class__ is not dict or len(value) > MOST_ITEMS:
            raise fault("not_an_object", f"{shown(value)} is not an object of at most {MOST_ITEMS} texts", self.right)
        entry = Text(longest=100)
        errors = {}
        for key, text in value.items():
            try:
                entry.deserialize(key)
                entry.deserialize(text)
            except ma.ValidationError as problem:
                errors[key] = problem.messages
        if errors:
            raise ma.ValidationError(errors)
        return dict(value)


class PlaceSchema(Shape):
    """The spot a sample was taken from."""

    makes = made_of.Place
    id = Text(required=True, longest=100)
    name = Text(allow_none=True)


class SampleSchema(Shape):
    """The bag of soil."""

    makes = made_of.Sample
    laboratory = Text(allow_none=True, longest=100)
    lab_number = Text(allow_none=True, longest=100)
    revision = Whole(low=1, high=9999)
    label = Text(allow_none=True, longest=100)
    place = Part(PlaceSchema, allow_none=True)
    taken_on = Day(allow_none=True)
    depth = Part(DepthSchema, allow_none=True)
    cores = Whole(low=1, high=10_000, allow_none=True)
    received_on = Day(allow_none=True)
    tool = Choice("tool", allow_none=True)
    container = Choice("container", allow_none=True)
    handling = Choice("handling", allow_none=True)
    material = Choice("material", allow_none=True)
    mixed_areas = Flag(allow_none=True)
    fertilized_within_days = Whole(low=0, high=36_500, allow_none=True)
    comment = Text(longest=2000, blank=True, allow_none=True)

    def check(self, made: made_of.Sample) -> None:
        """A sample is received after it was taken."""
        if made.taken_on and made.received_on and made.received_on < made.taken_on:
            right = f"{made.taken_on} or later"
            refuse("received_on", "received_before_taken", "the sample was received before it was taken", right)


class ConditionSchema(Shape):
    """How the target is kept."""

    makes = made_of.Condition
    maintenance = Choice("maintenance", allow_none=True)
    clippings = Choice("clippings", allow_none=True)
    irrigated = Flag(allow_none=True)
    overseeded = Flag(allow_none=True)
    in_turf = Flag(allow_none=True)
    organic_only = Flag(allow_none=True)
    age_years = Number(low=0.0, high=5000.0, allow_none=True)
    trunk_diameter = QuantityOf("length")
    livestock = Flag(allow_none=True)
    use = Choice("use", allow_none=True)


class TargetSchema(Shape):
    """What grows or will grow there."""

    makes = made_of.Target
    crop = Crop(required=True, allow_none=True)
    stage = Choice("stage", allow_none=True)
    area = QuantityOf("area")
    yield_goal = QuantityOf("")
    condition = Part(ConditionSchema, allow_none=True)


class AmendedSchema(Shape):
    """One past application."""

    makes = made_of.Amended
    material = Choice("amended", required=True)
    on = Day(allow_none=True)
    amount = QuantityOf("")


class OrganicInputSchema(Shape):
    """Manure, compost or mulch."""

    makes = made_of.OrganicInput
    material = Choice("organic_inputs", required=True)
    depth = QuantityOf("length")
    amount = QuantityOf("")
    per = Choice("per", allow_none=True)


class DistanceSchema(Shape):
    """How far away something is."""

    distance = QuantityOf("length", above=None)


class WellSchema(Shape):
    """A private well near the target."""

    makes = made_of.Well
    distance = QuantityOf("length", above=None)
    infant = Flag(allow_none=True)


class IrrigationWaterSchema(Shape):
    """Irrigation water with its own analysis."""

    makes = made_of.IrrigationWater
    results = Results(WaterResultSchema, least=0)
    applied = QuantityOf("length")
    source = Choice("water_source", allow_none=True)


class ObservationsSchema(Shape):
    """What anybody can see or feel: each the word of a simple test."""

    vinegar_fizz = Choice("vinegar_fizz", allow_none=True)
    ball = Choice("ball", allow_none=True)
    ribbon = Choice("ribbon", allow_none=True)
    grit = Choice("grit", allow_none=True)


class SiteSchema(Shape):
    """The ground around the sample."""

    region = Region(allow_none=True, longest=6)
    county = Text(allow_none=True, longest=100)
    zone = Zone(allow_none=True, longest=20)
    elevation = QuantityOf("length", above=None)
    slope_pct = Number(low=0.0, high=200.0, allow_none=True)
    surface_water = Part(DistanceSchema, allow_none=True)
    previous_crop = Text(allow_none=True, longest=60)
    amended = Items(Part(AmendedSchema), most=MOST_ITEMS, allow_none=True)
    texture = Choice("texture", allow_none=True)
    drainage = Choice("drainage", allow_none=True)
    hard_layer_depth = QuantityOf("length")
    symptoms = Items(Choice("symptoms"), most=MOST_ITEMS, unique=True, allow_none=True)
    observations = Part(ObservationsSchema, allow_none=True)
    house_built = Whole(low=1600, high=2200, allow_none=True)
    children = Flag(allow_none=True)
    well = Part(WellSchema, allow_none=True)
    irrigation_water = Part(IrrigationWaterSchema, allow_none=True)
    organic_inputs = Items(Part(OrganicInputSchema), most=MOST_ITEMS, allow_none=True)
    requests = Items(Choice("requests"), most=MOST_ITEMS, unique=True, allow_none=True)

    @ma.post_load
    def build(self, data: dict[str, Any], **_: Any) -> made_of.Site:
        """The dataclass; ``surface_water.distance`` becomes one field."""
        said = {name: value for name, value in data.items() if value is not None}
        water = said.pop("surface_water", {})
        return made_of.Site(**said, surface_water_distance=water.get("distance"))


class Calibration(Strict, ma.fields.String):
    """A publisher's set of tables."""

    right = "the id of a calibration (see /v1/tables/calibrations)"

    def read(self, value: Any) -> Any:
        """The value, if it is one."""
        words = ReadingContext.get().vocabulary.calibrations
        if value not in words:
            raise fault("unknown_word", f"{shown(value)} is no calibration", f"one of {', '.join(words)}", words)
        return value


class OptionsSchema(Shape):
    """How to answer."""

    makes = made_of.Options
    as_of = Day(allow_none=True, latest=YEAR_AHEAD)
    units = Choice("units", allow_none=True)
    language = Choice("language", LANGUAGES, allow_none=True)
    calibration = Calibration(allow_none=True)
    editions = WordMap(allow_none=True)
    materials = Part(MaterialWishesSchema, allow_none=True)


class EarlierSchema(Shape):
    """An earlier sample of the same place."""

    makes = made_of.Earlier
    taken_on = Day(required=True)
    results = Results(ResultSchema, least=1, required=True)
    depth = Part(DepthSchema, allow_none=True)
    laboratory = Text(allow_none=True, longest=100)


class SubmissionSchema(Shape):
    """One sample, its results, one target, the site and the options."""

    sample = Part(SampleSchema, allow_none=True)
    results = Results(ResultSchema, least=1, required=True)
    target = Part(TargetSchema, required=True)
    site = Part(SiteSchema, allow_none=True)
    options = Part(OptionsSchema, allow_none=True)
    earlier = Items(Part(EarlierSchema), most=50, allow_none=True)

    @ma.post_load
    def build(self, data: dict[str, Any], **_: Any) -> made_of.Submission:
        """The dataclass; a sample nobody described is still a sample."""
        said = {name: value for name, value in data.items() if value is not None}
        return made_of.Submission(**{"sample": made_of.Sample(), **said})


SUBMISSION = SubmissionSchema()


def load_submission(document: Any, library: Library, today: date) -> made_of.Submission:
    """A checked submission.

    Args:
        document: what the JSON said.
        library: the tables in force for it, whose words it may use.
        today: the day of receipt; samples from the future are refused.

    Raises:
        ProblemError: 422 with a pointer to each field at fault.
    """
    with ReadingContext(Reading(library.index(Vocabulary), today)):
        with suppress(ma.ValidationError):
            return SUBMISSION.quick(document)  # type: ignore[no-any-return]
        try:
            return SUBMISSION.load(document)  # type: ignore[no-any-return]
        except ma.ValidationError as problem:
            raise invalid(field_errors(problem.messages)) from None


def peek_options(document: Any) -> tuple[date | None, Mapping[str, str]]:
    """The day and the pinned editions a submission asks for, before it is checked; nonsense reads as nothing."""
    options = mapping_of(mapping_of(document).get("options"))
    pins = {name: edition for name, edition in mapping_of(options.get("editions")).items() if isinstance(edition, str)}
    as_of = options.get("as_of")
    try:
        return (date.fromisoformat(as_of) if isinstance(as_of, str) else None), pins
    except ValueError:
        return None, pins
