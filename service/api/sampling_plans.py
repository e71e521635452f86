"""``/v1/sampling-plans``: how to sample."""

from typing import Any

import marshmallow as ma
from flask import Response
from flask_smorest import Blueprint

from service.api.endpoint import endpoint
from service.api.replies import json_reply, office
from service.contract.fields import Choice, Strict, Text, fault, shown
from service.contract.sample_schema import USES, SamplingPlanSchema
from service.contract.shape import Shape
from service.contract.submission import LANGUAGES
from service.desk import sampling_plans as desk

sampling_plans = Blueprint(
    "sampling_plans", __name__, url_prefix="/v1/sampling-plans", description="How to take a sample."
)


class QueryFigure(Strict, ma.fields.Float):
    """A figure in digits, within its bounds."""

    def __init__(self, *, low: float, high: float, **more: Any) -> None:
        more["metadata"] = {"minimum": low, "maximum": high, **more.get("metadata", {})}
        super().__init__(**more)
        self.low, self.high = low, high
        self.right = f"a number from {low:g} to {high:g}"

    def read(self, value: Any) -> Any:
        """The figure."""
        plain = isinstance(value, str) and len(value) < 20 and value.replace(".", "", 1).isdecimal() and value.isascii()
        if not plain or not self.low <= float(value) <= self.high:
            raise fault("out_of_range", f"{shown(value)} is no such number", self.right)
        return float(value)


class PlanQuery(Shape):
    """For what is to be sampled."""

    use = Choice("sampling_use", USES, required=True)
    area = QueryFigure(low=0.01, high=1e9, metadata={"description": "Together with unit."})
    unit = Text(longest=20, metadata={"description": "Of the area: ft2, acre, m2, ha."})
    cv = QueryFigure(low=1, high=1000, metadata={"description": "Coefficient of variation between cores, percent."})
    error = QueryFigure(
        low=1, high=1000, load_default=desk.ERROR_PCT, metadata={"description": "Of the mean, percent."}
    )
    confidence = QueryFigure(low=50, high=99.9, load_default=desk.CONFIDENCE_PCT, metadata={"description": "Percent."})
    language = Choice("language", LANGUAGES, load_default="en")


@endpoint(sampling_plans, "GET ", "readSamplingPlan", SamplingPlanSchema, scope="read_library", query=PlanQuery)
def read(query: dict[str, Any]) -> Response:
    """Depth, cores, area, amount, kit, what to avoid, for one use; with cv the cores that this scatter needs."""
    return json_reply(desk.plan(office(), desk.Wish(**query)))
