"""The door: a submission becomes a `Case` in canonical analytes, units and layers, once, here and nowhere else.

What cannot be true is kept by name, asked about and not used; nothing is corrected. The contract has already refused
what is malformed; what is checked twice here would otherwise become a wrong number.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from math import inf
from typing import NamedTuple

from service.agronomy.errors import UnitMismatch, UnknownUnit
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.layering import Layers
from service.agronomy.measure import RESULTS, Doubt, Layer, measure, reported
from service.agronomy.quality_limits import Limits
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Depth, Submission
from service.agronomy.tables import Library
from service.agronomy.units import ClientUnits, difference_pct, scaled
from service.agronomy.vocabulary import Vocabulary

type_of_index = dict[str, tuple[Measurement, ...]]


class Understood(NamedTuple):
    """The case, and what the door had to say about the submission."""

    case: Case
    reasons: tuple[Reason, ...]


def understand(submission: Submission, library: Library, today: date, explain: bool = True) -> Understood:
    """The submission in canonical analytes and units.

    Args:
        submission: as checked by the contract; nothing converted.
        library: tables in force.
        today: day of issue; ``as_of`` when the client gave none.
        explain: whether the steps make explanations.

    An impossible pH or EC of the main layer gives a reason ``refuse``; any other result that cannot be true, or that
    contradicts itself, gives ``withhold`` and stays in ``case.soil`` with its index in ``case.voids``. When nothing
    usable is left that is a ``refuse`` too.
    """
    reader = _Reader(submission, library)
    reader.read_soil()
    reader.read_water()
    reader.read_dates(today)
    area = reader.area()
    reader.close()
    target = submission.target
    case = Case(
        submission=submission,
        library=library,
        crop=library.crops.get(target.crop) if target.crop else None,
        as_of=submission.options.as_of or today,
        explain=explain,
        units=ClientUnits(submission.options.units, area),
        soil=tuple(reader.soil),
        layers=tuple(reader.layers),
        water=tuple(reader.water),
        depth_in=reader.ground.main.depth_in,
        area_m2=area,
        voids=reader.voids,
        weakened=reader.weakened,
        by_analyte=reader.by_analyte,
        water_by_analyte={m.analyte: (m,) for m in reader.water},
    )
    return Understood(case, tuple(reader.reasons))


def _without(by_analyte: type_of_index, voids: Mapping[int, Note]) -> type_of_index:
    """The measurements that are not voided, by analyte."""
    trusted: type_of_index = {}
    for analyte, measurements in by_analyte.items():
        kept = tuple(m for m in measurements if m.index not in voids)
        if kept:
            trusted[analyte] = kept
    return trusted


class _Reader:
    """One submission being read: what has been understood and doubted so far."""

    def __init__(self, submission: Submission, library: Library) -> None:
        self.submission = submission
        self.vocabulary = library.index(Vocabulary.of)
        self.units = self.vocabulary.units
        self.limits = library.index(Limits.of)
        self.reasons: list[Reason] = []
        self.soil: list[Measurement] = []
        self.layers: list[Measurement] = []
        self.water: list[Measurement] = []
        self.by_analyte: type_of_index = {}
        self.voids: dict[int, Note] = {}
        self.weakened: dict[int, Note] = {}
        self.ground = Layers(submission, self.units, library)
        self.reasons += self.ground.take()

    def read_soil(self) -> None:
        """Every soil result into the main layer or another one."""
        main = self.ground.main
        entries, by_analyte, soil, units = self.vocabulary.entries, self.by_analyte, self.soil, self.units
        for index, result in enumerate(self.submission.results):
            entry = entries.get((result.analyte, result.method)) or self.vocabulary.soil(result.analyte, result.method)
            if entry is None:
                continue
            layer = main if result.depth is None else self._layer(result.depth, index)
            measured, doubt = measure(entry, units, result, index, layer)
            if doubt is not None:
                self._doubted(doubt, measured, layer)
            if result.unit not in entry.multipliers and index not in self.voids:
                self.ground.note_density(entry, measured)
            if not layer.main:
                self._other_layer(measured)
                continue
            soil.append(measured)
            before = by_analyte.get(measured.analyte)
            if before is None:
                by_analyte[measured.analyte] = (measured,)
            else:
                by_analyte[measured.analyte] = (*before, measured)
                self._twice(before, measured)
        if self.voids:
            self.by_analyte = _without(by_analyte, self.voids)
        self.reasons += self.ground.usual_density()

    def _layer(self, depth: Depth, index: int) -> Layer:
        """The layer of one result; one that cannot be is voided with the main layer's results."""
        layer = self.ground.of(depth, f"{RESULTS}/{index}/depth")
        if layer.depth_in is None:
            self.voids[index] = Note("void.depth_impossible")
            self.reasons += self.ground.take()
        return layer

    def _doubted(self, doubt: Doubt, measured: Measurement, layer: Layer) -> None:
        """Name a doubt. An unusual figure of the main layer is judged with the others, by `quality.check`."""
        if not doubt.usable:
            self.reasons.append(doubt.reason)
            self.voids.setdefault(measured.index, doubt.note)
        elif not layer.main:
            self.reasons.append(doubt.reason)
        elif not self._organic_material(measured):
            self.weakened[measured.index] = doubt.note

    def _organic_material(self, measured: Measurement) -> bool:
        """Much organic matter is no surprise in a material that is not mineral soil."""
        material = self.submission.sample.material
        return measured.analyte in ("OM", "OC") and material not in (None, "mineral_soil")

    def _other_layer(self, measured: Measurement) -> None:
        """Keep a result of another layer, unless it is doubted or contradicts one of the same layer."""
        if measured.index in self.voids:
            return
        beside = tuple(m for m in self.layers if m.analyte == measured.analyte and m.depth_in == measured.depth_in)
        self.layers.append(measured)
        self._twice(beside, measured)
        if self.voids:
            self.layers = [m for m in self.layers if m.index not in self.voids]

    def _twice(self, before: Iterable[Measurement], later: Measurement) -> None:
        """The same analyte, method and layer a second time: the same figure counts once, two figures not at all."""
        voids = self.voids
        if later.index in voids:
            return
        earlier = next((m for m in before if m.method == later.method and _compared(voids.get(m.index))), None)
        if earlier is None:
            return
        values = _both(earlier, later)
        if self._agree(earlier, later):
            voids[later.index] = Note("void.repeated", values)
        else:
            self.reasons.append(_contradiction(earlier, later, f"{RESULTS}/{later.index}"))
            voids[earlier.index] = voids[later.index] = Note("void.contradicts", values)

    def _agree(self, earlier: Measurement, later: Measurement) -> bool:
        """Equal; or, in different forms (NO3 and NO3-N), within what rounding does."""
        if earlier.text != later.text or (earlier.value is None) != (later.value is None):
            return False
        if scaled_ends(earlier) == scaled_ends(later):
            return True
        if earlier.value is None or later.value is None or earlier.reported.analyte == later.reported.analyte:
            return False
        return difference_pct(earlier.value, later.value) <= self.limits.figure("rpd", "good")

    def read_water(self) -> None:
        """The results of the irrigation water; what cannot be true or contradicts itself is left out by name."""
        irrigation = self.submission.site.irrigation_water
        seen: dict[str, Measurement] = {}
        dropped: set[str] = set()
        water = Layer("/site/irrigation_water/results", None, None, False)
        for index, result in enumerate(irrigation.results if irrigation else ()):
            entry = self.vocabulary.water(result.analyte, result.method)
            if entry is None:
                continue
            measured, doubt = measure(entry, self.units, result, index, water)
            if doubt is not None:
                self.reasons.append(doubt.reason)
                if not doubt.usable:
                    continue
            earlier = seen.setdefault(measured.analyte, measured)
            if earlier is measured:
                self.water.append(measured)
            elif not self._agree(earlier, measured):
                self.reasons.append(_contradiction(earlier, measured, f"{water.results}/{index}"))
                dropped.add(measured.analyte)
        if dropped:
            self.water = [m for m in self.water if m.analyte not in dropped]

    def read_dates(self, today: date) -> None:
        """Days that have not come yet."""
        sample = self.submission.sample
        for name, day in (("taken_on", sample.taken_on), ("received_on", sample.received_on)):
            if day is not None and day > today:
                ask = Note("ask.date_in_future")
                self.reasons.append(Reason("date_in_future", "warning", None, {"day": day}, ask, f"/sample/{name}"))

    def area(self) -> float | None:
        """Area of the target, m2; None when none was said or it cannot be one."""
        said = self.submission.target.area
        if said is None:
            return None
        try:
            area = self.units.square_metres(said)
        except (UnknownUnit, UnitMismatch):
            area = -1.0
        if 0 < area < inf:
            return area
        ask = Note("ask.area_impossible")
        self.reasons.append(Reason("area_impossible", "withhold", None, {"area": said}, ask, "/target/area"))
        return None

    def close(self) -> None:
        """Refuse what has nothing usable left."""
        doubted = any(reason.severity == "withhold" for reason in self.reasons)
        usable = self.water or self.layers or any(m.index not in self.voids for m in self.soil)
        if doubted and not usable:
            self.reasons.append(Reason("nothing_usable", "refuse", None, {}, Note("ask.nothing_usable")))


def _compared(void: Note | None) -> bool:
    """Whether a result stands for its test: used, or out only because it was sent twice."""
    return void is None or void.code in ("void.repeated", "void.contradicts")


def scaled_ends(measurement: Measurement) -> tuple[int, int | None]:
    """The interval in millionths, for comparing; None for an open end."""
    return (scaled(measurement.low), None if measurement.high == inf else scaled(measurement.high))


def _both(earlier: Measurement, later: Measurement) -> dict[str, object]:
    return {
        "analyte": Word("analyte", later.analyte),
        "first": reported(earlier.reported),
        "second": reported(later.reported),
    }


def _contradiction(earlier: Measurement, later: Measurement, pointer: str) -> Reason:
    values = _both(earlier, later)
    ask = Note("ask.contradicting_results", values)
    return Reason("contradicting_results", "withhold", later.analyte, values, ask, pointer)
