"""``/v1/calculations/{name}``: one calculation with its steps, by the same functions that the interpretation uses."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request
from flask_smorest import Blueprint

from service.agronomy import calculations as known
from service.agronomy.calculations import Calculation
from service.api.endpoint import endpoint
from service.api.replies import json_body, office, tagged
from service.contract.calculation import CalculationAnswerSchema, schema_of
from service.desk.calculate import calculate

LANGUAGES = ("en", "es")
CALCULATIONS: Mapping[str, Calculation] = getattr(known, "CALCULATIONS", {})

calculations = Blueprint(
    "calculations", __name__, url_prefix="/v1/calculations", description="One calculation with its steps."
)


def _offer(calculation: Calculation) -> None:
    shape = schema_of(calculation)
    schema = shape()

    def submit(_: dict[str, Any]) -> Response:
        language = request.accept_languages.best_match(LANGUAGES) or LANGUAGES[0]
        return tagged(calculate(calculation, schema, json_body(), language, office()))

    submit.__name__ = submit.__qualname__ = calculation.name
    submit.__doc__ = calculation.doc
    endpoint(
        calculations,
        f"POST /{calculation.name}",
        f"calculate_{calculation.name}",
        CalculationAnswerSchema,
        scope="calculate",
        errors=(400, 413, 415),
        requestBody={"required": True, "content": {"application/json": {"schema": shape}}},
    )(submit)


for _calculation in CALCULATIONS.values():
    _offer(_calculation)
