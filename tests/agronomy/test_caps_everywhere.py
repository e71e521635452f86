"""Caps reach every dose: each crop and nutrient with printed rates has one, and no option of a request takes one away.

Factors of slips: 43,560 ft2 in an acre (exact), atomic masses (IUPAC), 1 lb/acre = 1.12085 kg/ha (exact definitions).
"""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import pytest
from making import case_of, dose

from service.agronomy import caps, decision
from service.agronomy.dose_slips import FACTORS, in_a_row, likely_slips
from service.agronomy.findings import Note, Reason
from service.agronomy.submission import AtHand, MaterialWishes, Options, OwnProduct, Quantity
from service.agronomy.tables import CalibrationRow, Library
from service.agronomy.units import Units

CHOICES: Mapping[str, tuple[Any, ...]] = {
    "as_of": (),
    "units": ("us_garden", "us_field", "metric"),
    "language": ("en", "es"),
    "calibration": (),
    "editions": (),
    "materials": (
        MaterialWishes(objective="cost", only=("urea",), whole_bags=True, most_products=1),
        MaterialWishes(products=(OwnProduct("own", grade="46-0-0", bag=Quantity(50, "lb")),)),
        MaterialWishes(at_hand=(AtHand(Quantity(500, "lb"), material="urea"),)),
    ),
}
"""Every option of a submission with values to walk; those left blank are filled from the library below."""


def every_option(library: Library) -> list[dict[str, Any]]:
    """One option at a time, every value it has, and an edition pin for every table and crop."""
    values = dict(CHOICES)
    values["calibration"] = tuple(row.calibration for row in library.rows("calibrations", CalibrationRow))
    values["editions"] = tuple({ref.id: ref.edition} for ref in library.editions.values())
    return [{name: value} for name, found in values.items() for value in found]


def test_no_option_lets_a_dose_over_its_cap_through(library: Library) -> None:
    """2 lb of soluble N at once on a lawn, 320 lb of phosphate an acre in a garden: held whatever is chosen."""
    assert set(CHOICES) == {item.name for item in fields(Options)}
    for options in every_option(library):
        lawn = case_of(library, options=options, explain=False)
        assert caps.enforce(lawn, [dose(lawn, "N", 2)])[0] == []
        garden = case_of(library, crop="vegetable-garden", stage=None, options=options, explain=False)
        assert caps.enforce(garden, [dose(garden, "P2O5", 320, "lb/acre")])[0] == []


@pytest.mark.parametrize("use", ["home", "sports", "school", "market", "field", None])
@pytest.mark.parametrize("maintenance", ["low", "medium", "high", None])
def test_no_condition_lets_a_dose_over_its_cap_through(
    library: Library, use: str | None, maintenance: str | None
) -> None:
    for organic_only in (True, False, None):
        condition = {"use": use, "maintenance": maintenance, "organic_only": organic_only}
        case = case_of(library, condition=condition, explain=False)
        assert caps.enforce(case, [dose(case, "N", 2)])[0] == []


def test_every_printed_rate_has_a_cap_above_it(library: Library) -> None:
    """Each crop, each nutrient for which it has a rate: a hard cap of the same kind (by area, by tree) applies."""
    units, by_subject = library.index(Units.of), library.index(caps.Caps.of).by_subject
    bare = set()
    for crop in library.crops.values():
        case = case_of(library, crop=crop.id, stage=None, explain=False)
        for row in crop.amounts:
            if row.use_table or not units.known(row.rate_unit) or row.rate_high == 0:
                continue
            dimension = units.dimension(row.rate_unit)
            found = by_subject.get(row.nutrient, ())
            if not any(cap.dimension == dimension and caps.applies(case, cap.row) for cap in found):
                bare.add((crop.id, row.nutrient, dimension))
    assert bare == set()


def reason(library: Library, subject: str, rate: float, unit: str, **more: Any) -> Reason:
    case = case_of(library, **more)
    _, reasons = caps.enforce(case, [dose(case, subject, rate, unit, "amendment")])
    return reasons[0]


@pytest.mark.parametrize(
    ("subject", "meant", "unit", "factor", "slip"),
    [
        ("P2O5", 60, "lb/acre", 43.56, "per_acre"),
        ("P2O5", 60, "lb/acre", 10, "per_1000"),
        ("P2O5", 200, "lb/acre", 2.2914, "phosphate"),
        ("K2O", 450, "lb/acre", 1.2046, "potash"),
        ("N", 280, "lb/acre", 1.12085, "kg_ha"),
        ("N", 100, "lb/acre", 43.56, "per_acre"),
        ("gypsum", 2, "ton/acre", 43.56, "per_acre"),
    ],
)
def test_the_slip_is_named_with_what_was_meant(
    library: Library, subject: str, meant: float, unit: str, factor: float, slip: str
) -> None:
    slips = likely_slips(library, subject, *areal(library, meant * factor, unit, subject), unit)
    doses = {note.code: note.values["dose"].value for note in slips}
    assert doses[f"slip.{slip}"] == pytest.approx(meant, rel=0.01)


def areal(library: Library, rate: float, unit: str, subject: str) -> tuple[float, float]:
    """A rate and the cap of its subject for a field, g/m2."""
    case = case_of(library, crop="winter-wheat", stage=None)
    found = library.index(caps.Caps.of).by_subject[subject]
    cap = next(each for each in found if caps.applies(case, each.row))
    return library.index(Units.of).convert(rate, unit, "g/m2"), cap.base


def test_factors_of_slips() -> None:
    """IUPAC: P2O5/2P = 2.2914, K2O/2K = 1.2046. NIST SP 811: 1 lb/acre = 1.12085 kg/ha; an acre is 43.56 x 1000 ft2."""
    known = {slip: factor for slip, factor, _ in FACTORS}
    wanted = {"per_acre": 43.56, "per_1000": 10, "phosphate": 2.2914, "potash": 1.2046, "kg_ha": 1.12085}
    assert known == pytest.approx(wanted, rel=1e-4)


def test_form_slips_only_for_their_own_nutrient(library: Library) -> None:
    subjects = {slip: named for slip, _, named in FACTORS}
    assert (subjects["phosphate"], subjects["potash"]) == ({"P2O5"}, {"K2O"})


def test_a_dose_that_no_slip_explains_names_none(library: Library) -> None:
    """Sixty thousand pounds an acre are beyond every factor."""
    assert likely_slips(library, "P2O5", *areal(library, 60000, "lb/acre", "P2O5"), "lb/acre") == ()
    assert reason(library, "sulfur", 9000, "lb/1000 ft2").values["slip"] == ""


def test_rates_printed_for_the_plant_say_what_is_ordinary(library: Library) -> None:
    """On turf 2 lb N at once could be any slip; by the rates printed for the lawn it is none of a hundredth."""
    found = reason(library, "N", 43.56, "lb/1000 ft2").values["slip"]
    assert found.code == "slip.per_acre"
    assert found.values == {"dose": Quantity(1, "lb/1000 ft2"), "more": ""}


def test_every_slip_that_fits_is_named(library: Library) -> None:
    """458 lb P2O5 an acre: 200 reckoned up by 2.29, or 45.8 by ten; both are ordinary."""
    slips = likely_slips(library, "P2O5", *areal(library, 458.3, "lb/acre", "P2O5"), "lb/acre")
    assert {note.code for note in slips} == {"slip.phosphate", "slip.per_1000"}
    chained = in_a_row(slips)
    assert chained != ""
    assert chained.values["more"].values["more"] == ""


def test_who_sent_the_sample_does_not_see_the_dose(library: Library) -> None:
    """A held answer shows neither the dose nor its slip, in which it stands too; a slip in what was sent is told."""
    assert "slip" in decision.KEPT_BACK
    dose = Reason("dose_over_cap", "hold", "N", {"dose": Quantity(5, "lb/1000 ft2"), "slip": Note("slip.per_acre")})
    assert decision._without_dose(dose) == dose._replace(code="dose_over_cap_kept_back", values={})
    sent = Reason("check_figure", "warning", "P", {"slip": Note("slip.ten")})
    assert decision._without_dose(sent) is sent
