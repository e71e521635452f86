"""The texture of the main layer from the best evidence sent, and the working figures that go with it."""

from collections.abc import Mapping

from service.agronomy import hydrometer
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Note, Texture, Word
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import FeelRow, TexturePropertyRow, weakest
from service.agronomy.triangle import Triangle, complete
from service.agronomy.units import METRES_PER_FOOT, METRES_PER_INCH, scaled, significant

LABORATORY = ("pipette", "hydrometer", "sieve", "not_stated")
FRACTIONS = ("sand", "silt", "clay")
LATE_READINGS = ("hydrometer_8h", "hydrometer_6h", "hydrometer_24h", "hydrometer_2h")
"""Nearest to 2 um first (UMN-RAL takes 6 to 8 hours); the 2-hour reading sees 5 um and counts fine silt as clay."""


def texture_of(case: Case) -> Texture | None:
    """The texture of the main layer, or None when nothing sent tells.

    In order: measured fractions, hydrometer readings, the laboratory's class, a jar test, a feel test, what the client
    believes. ``how`` says which: fractions, hydrometer_readings, laboratory_class, jar, feel, stated.
    """
    triangle = case.library.index(Triangle.of)
    return (
        _from_fractions(case, triangle, "fractions", LABORATORY)
        or _from_readings(case, triangle)
        or _from_class(case, triangle)
        or _from_fractions(case, triangle, "jar", ("jar",))
        or _from_hand(case, triangle)
        or _from_site(case, triangle)
    )


def fractions_of(
    case: Case, methods: tuple[str, ...]
) -> tuple[Measurement | None, Measurement | None, Measurement | None]:
    """Sand, silt and clay of the main layer by the first of the methods."""
    sand, silt, clay = (case.find(name, *methods) for name in FRACTIONS)
    return sand, silt, clay


def _from_fractions(case: Case, triangle: Triangle, how: str, methods: tuple[str, ...]) -> Texture | None:
    shares = [m.value if m else None for m in fractions_of(case, methods)]
    try:
        return _of_point(case, triangle, complete(*shares), how)
    except OutOfRange:
        return None


def _from_readings(case: Case, triangle: Triangle) -> Texture | None:
    """Two hydrometer readings with a blank or with temperatures; without either nothing corrects them."""
    mass = _value(case, "hydrometer_mass")
    early = _corrected(case, "hydrometer_40s")
    late = next((c for c in (_corrected(case, name) for name in LATE_READINGS) if c is not None), None)
    if mass is None or early is None or late is None:
        return None
    try:
        return _of_point(case, triangle, hydrometer.shares(mass, early, late), "hydrometer_readings")
    except OutOfRange:
        return None


def _corrected(case: Case, reading: str) -> float | None:
    """A reading less the blank, which holds the temperature term; else corrected for temperature; else None."""
    value = _value(case, reading)
    if value is None:
        return None
    blank = _value(case, "hydrometer_blank")
    if blank is not None:
        return value - blank
    warmth = _value(case, f"{reading}_temperature")
    if warmth is None:
        return None
    linear = reference_of(case.library).formula("hydrometer_temperature_linear").coefficients
    return value + linear["k"] * (warmth - linear["base_C"])


def _value(case: Case, analyte: str) -> float | None:
    found = case.find(analyte)
    return found.value if found else None


def _from_class(case: Case, triangle: Triangle) -> Texture | None:
    """A class word among the results: by feel, by jar, or by the laboratory."""
    stated = case.find("texture")
    if stated is None or not stated.text:
        return None
    how = stated.method if stated.method in ("feel", "jar") else "laboratory_class"
    return _of_class(case, triangle, stated.text, how)


def _from_hand(case: Case, triangle: Triangle) -> Texture | None:
    """What a handful of moist soil does: the classes that fit every answer, and the one word that covers them."""
    names, rows = by_feel(triangle, case.submission.site.observations)
    if not names:
        return None
    groups = {triangle.group(name) for name in names}
    if len(names) > 1 and len(groups) > 1:
        return None
    name = names[0] if len(names) == 1 else groups.pop()
    found = _of_class(case, triangle, name, "feel")
    found.near = tuple(other for other in names if other != name)
    found.notes = (Note("texture.by_feel", {"textures": tuple(map(_word, names))}), *found.notes)
    found.sources = tuple(dict.fromkeys(source for row in rows for source in row.sources))
    found.verification = weakest([row.verification for row in rows])
    return found


def by_feel(triangle: Triangle, answers: Mapping[str, str]) -> tuple[tuple[str, ...], tuple[FeelRow, ...]]:
    """The classes that fit every hand test answered (ball, ribbon, grit), and the rows that say so."""
    rows = tuple(row for row in triangle.feel if answers.get(row.test) in row.answers)
    names = [name for name in (rows[0].textures if rows else ()) if all(name in row.textures for row in rows)]
    return tuple(names), rows


def _from_site(case: Case, triangle: Triangle) -> Texture | None:
    stated = case.submission.site.texture
    return _of_class(case, triangle, stated, "stated") if stated else None


def _of_point(case: Case, triangle: Triangle, point: tuple[float, float, float], how: str) -> Texture:
    name = triangle.classify(*point)
    found = _of_class(case, triangle, name, how)
    found.sand_pct, found.silt_pct, found.clay_pct = point
    if case.explain:
        found.near = triangle.near(*point)
        if found.near:
            values = {"texture": _word(name), "others": tuple(map(_word, found.near))}
            found.notes = (Note("texture.near", values), *found.notes)
    return found


def _of_class(case: Case, triangle: Triangle, name: str, how: str) -> Texture:
    notes: tuple[Note, ...] = (Note(f"texture.how_{how}", {"texture": _word(name)}),)
    row = triangle.properties.get(name)
    if row is not None and case.explain:
        notes = (*notes, *_properties(case, row))
    sources = triangle.sources.get(name, ())
    return Texture(
        texture_class=name,
        group=triangle.group(name),
        how=how,
        notes=notes,
        sources=sources,
        verification=triangle.marks.get(name, "practice"),
    )


def _properties(case: Case, row: TexturePropertyRow) -> tuple[Note, ...]:
    """Working figures of the class: conventions, not measurements of this soil."""
    metric = case.units.system == "metric"
    water = 1000 * METRES_PER_INCH / METRES_PER_FOOT if metric else 1.0
    rate = 1000 * METRES_PER_INCH if metric else 1.0
    notes = [
        _span("texture.saturation", row.saturation_pct_low, row.saturation_pct_high, 1.0, "%"),
        _span(
            "texture.available_water",
            row.available_water_low_in_per_ft,
            row.available_water_high_in_per_ft,
            water,
            "mm/m" if metric else "in/ft",
        ),
        _span(
            "texture.infiltration",
            row.infiltration_low_in_per_h,
            row.infiltration_high_in_per_h,
            rate,
            "mm/h" if metric else "in/h",
        ),
        _span("texture.bulk_density", row.bulk_density_low_g_cm3, row.bulk_density_high_g_cm3, 1.0, "g/cm3"),
        _compaction(case, row),
    ]
    return tuple(note for note in notes if note is not None)


def _span(code: str, low: float | None, high: float | None, factor: float, unit: str) -> Note | None:
    if low is None:
        return None
    values = {"low": Quantity(significant(low * factor), unit)}
    if high is None:
        return Note(f"{code}_above", values)
    return Note(code, {**values, "high": Quantity(significant(high * factor), unit)})


def _compaction(case: Case, row: TexturePropertyRow) -> Note | None:
    """A measured bulk density from which roots of this texture are held back."""
    density = _value(case, "bulk_density")
    limit = row.root_limit_low_g_cm3
    if density is None or limit is None or scaled(density) < scaled(limit):
        return None
    return Note("texture.compacted", {"value": Quantity(density, "g/cm3"), "limit": Quantity(limit, "g/cm3")})


def _word(texture: str) -> Word:
    return Word("texture", texture)
