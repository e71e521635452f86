"""``/v1/statistics``: counts, waits and holds by office and month; counts by county with small cells hidden."""

import csv
from datetime import date
from io import StringIO
from typing import Any

from flask import Response, request
from flask_smorest import Blueprint

from service.api.access import caller
from service.api.endpoint import endpoint
from service.api.queries import QueryWhole
from service.api.replies import json_reply, office, tagged
from service.contract.desk_schema import AnyDay, CountiesSchema, StatisticsSchema
from service.contract.fields import Choice, Text
from service.contract.shape import Shape
from service.desk import statistics as desk

CSV = "text/csv"
FORMATS = ("json", "csv")
statistics = Blueprint("statistics", __name__, url_prefix="/v1/statistics", description="What was done, in figures.")


class FormatQuery(Shape):
    """In which form."""

    format = Choice("format", FORMATS, metadata={"description": "Accept: text/csv does the same."})


class StatisticsQuery(FormatQuery):
    """Which days and offices."""

    from_ = AnyDay(data_key="from", attribute="from", metadata={"description": "First day; 1 January if not given."})
    to = AnyDay(metadata={"description": "Last day; today if not given."})
    organization = Text(longest=64, metadata={"description": "One office; only the programme sees others."})


class YearQuery(FormatQuery):
    """Which year."""

    year = QueryWhole(low=2000, high=2199, metadata={"description": "This year if not given."})


@endpoint(statistics, "GET ", "readStatistics", StatisticsSchema, scope="statistics", query=StatisticsQuery)
def by_month(query: dict[str, Any]) -> Response:
    """Counts, waits and holds by office and month; neither the sandbox nor void reports count."""
    today = office().now().date()
    first, last = query.get("from", date(today.year, 1, 1)), query.get("to", today)
    lines = desk.by_month(caller(), office(), first.isoformat(), last.isoformat(), query.get("organization"))
    if wants_csv(query):
        return _csv(desk.table(lines))
    return _varying(json_reply({"items": [line._asdict() for line in lines]}))


@endpoint(statistics, "GET /counties", "readCountyStatistics", CountiesSchema, scope="statistics", query=YearQuery)
def by_county(query: dict[str, Any]) -> Response:
    """The whole programme by county in one year; a county of fewer than ten clients is hidden."""
    found = desk.by_county(office(), query.get("year", office().now().year))
    if wants_csv(query):
        return _csv([[*desk.County._fields], *([*line] for line in found)])
    return _varying(json_reply({"items": [line._asdict() for line in found]}))


def wants_csv(query: dict[str, Any]) -> bool:
    """Whether a spreadsheet is asked for, by the parameter or by Accept."""
    if "format" in query:
        return bool(query["format"] == "csv")
    return request.accept_mimetypes.best_match(("application/json", CSV)) == CSV


def _csv(rows: list[list[Any]]) -> Response:
    """Lines as RFC 4180 has them."""
    out = StringIO()
    csv.writer(out).writerows([desk.harmless(cell) for cell in row] for row in rows)
    return _varying(tagged(out.getvalue().encode(), mimetype=CSV))


def _varying(response: Response) -> Response:
    response.vary.add("Accept")
    return response
