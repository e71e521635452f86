"""What a crop stands of salt, boron, chloride and acidity, drawn on the same strips as the classes."""

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from service.agronomy.submission import Quantity
from service.agronomy.tables import Crop, Row, SaltToleranceRow
from service.agronomy.tolerance import ece_for_yield
from service.pages.bands import Axis, Span, Strip, axis_of, strip
from service.pages.ladders import Line, Warrant, range_text, said, warrant
from service.render.words import Words

LEFT = (90, 75, 50, 0)
"""Yields, %, whose salt level is told: the columns of the published lists."""
PH_MARGIN = 1.5


class Response(NamedTuple):
    """One published response: a strip where limits were printed, and sentences."""

    first: bool
    strip: Strip | None
    lines: tuple[Line, ...]
    sentences: tuple[str, ...]
    warrant: Warrant


class Tolerance(NamedTuple):
    """All that was published about one trouble. ``unit`` of the axis."""

    code: str
    heading: str
    unit: str
    stretched: bool
    responses: tuple[Response, ...]


def tolerances(crop: Crop, words: Words) -> tuple[Tolerance, ...]:
    """Salt with its rival figures, boron, chloride; what was never published is not there."""
    found = []
    salts = [row for row in (crop.salt, *crop.salt_rivals) if row is not None]
    if salts:
        lines = [_Line(row, row.threshold_dS_m, row.threshold_dS_m, row.slope_pct_per_dS_m) for row in salts]
        found.append(_tolerance("salt", "dS/m", lines, words))
    if boron := crop.boron:
        line = _Line(boron, boron.threshold_low_mg_L, boron.threshold_high_mg_L, boron.slope_pct_per_mg_L)
        found.append(_tolerance("boron", "mg/L", [line], words))
    if chloride := crop.chloride:
        limit = chloride.threshold_meq_L
        found.append(
            _tolerance("chloride", "meq/L", [_Line(chloride, limit, limit, chloride.slope_pct_per_meq_L)], words)
        )
    return tuple(found)


class _Line(NamedTuple):
    row: Row
    low: float | None
    high: float | None
    slope: float | None

    def spans(self, words: Words) -> list[Span]:
        """Full yield, fall, nothing left; without a slope the fall has no end."""
        if self.low is None or self.high is None:
            return []
        ends = round(ece_for_yield(0, self.high, self.slope), 1) if self.slope else None
        found = [Span("full", words.text("page.library.yield.full"), None, self.low)]
        if self.high > self.low:
            found.append(Span("begins", words.text("page.library.yield.begins"), self.low, self.high))
        found.append(Span("falls", words.text("page.library.yield.falls"), self.high, ends))
        return [*found, Span("gone", words.text("page.library.yield.gone"), ends, None)] if ends else found


def _tolerance(code: str, unit: str, lines: Sequence[_Line], words: Words) -> Tolerance:
    axis = axis_of(span for line in lines for span in line.spans(words))
    axis = axis._replace(stretched=False)
    responses = tuple(_response(code, unit, line, place == 0, axis, words) for place, line in enumerate(lines))
    return Tolerance(code, words.text(f"page.library.{code}"), words.unit(unit), axis.stretched, responses)


def _response(code: str, unit: str, line: _Line, first: bool, axis: Axis, words: Words) -> Response:
    spans = line.spans(words)
    drawn = strip(spans, axis, words.number, words.text("page.library.gap")) if spans else None
    shown = tuple(Line(span.tone, span.word, range_text(words, span.lower, span.upper), "") for span in spans)
    return Response(first, drawn, shown, tuple(_sentences(code, unit, line, words)), warrant(line.row))


def _sentences(code: str, unit: str, line: _Line, words: Words) -> Iterable[str]:
    row: Any = line.row
    rating = getattr(row, "rating", "")
    if rating:
        yield words.text("page.library.rated", {"rating": said(words, "salt_rating", rating)})
    if code == "boron":
        yield words.text("page.library.rated", {"rating": said(words, "boron_class", row.tolerance_class)})
    if row.basis:
        yield words.text("page.library.basis", {"basis": row.basis})
    if line.slope and line.high is not None:
        yield words.text("page.library.slope", {"slope": line.slope, "unit": words.unit(unit)})
        left = {f"y{pct}": round(ece_for_yield(pct, line.high, line.slope), 1) for pct in LEFT}
        yield words.text("page.library.left", {**left, "unit": words.unit(unit)})
    elif line.high is not None:
        yield words.text("page.library.no_slope")
    if isinstance(row, SaltToleranceRow):
        yield from _salt_extremes(row, words)


def _salt_extremes(row: SaltToleranceRow, words: Words) -> Iterable[str]:
    if row.seedling_limit_dS_m is not None:
        yield words.text("page.library.seedling", {"limit": Quantity(row.seedling_limit_dS_m, "dS/m")})
    elif row.seedling_tender:
        yield words.text("page.library.seedling_tender")
    if row.survival_limit_dS_m is not None:
        yield words.text("page.library.survival", {"limit": Quantity(row.survival_limit_dS_m, "dS/m")})


def acidity(crop: Crop, words: Words) -> Response | None:
    """The pH range in which the crop grows without trouble."""
    if crop.pH_range is None or crop.pH_source is None:
        return None
    low, high = crop.pH_range
    spans = [
        Span("falls", words.text("page.library.ph.below"), None, low),
        Span("full", words.text("page.library.ph.within"), low, high),
        Span("falls", words.text("page.library.ph.above"), high, None),
    ]
    drawn = strip(spans, Axis(low - PH_MARGIN, high + PH_MARGIN), words.number, "")
    lines = tuple(Line(span.tone, span.word, range_text(words, span.lower, span.upper), "") for span in spans)
    return Response(True, drawn, lines, (), warrant(crop.pH_source))
