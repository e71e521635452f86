"""Ground is fed once: what manure and compost bring is off the fertilizers, and said.

Steer manure 0.5 % P2O5 and K2O as is (S-TAMU-ORG, the table); broiler litter 59 lb N, 63 lb P2O5, 40 lb K2O a ton
(S-MIDATL9).
"""

import pytest
from making import DAY, submission
from supplying import brought

from service.agronomy.findings import Interpretation, Word
from service.agronomy.interpret import interpret
from service.agronomy.materials.needs import amount_of
from service.agronomy.materials.organic_route import analysis_of
from service.agronomy.materials.step import Supplied
from service.agronomy.submission import OrganicInput, Quantity, Result
from service.agronomy.tables import Library, MaterialRow
from service.blending import solve

GARDEN = {"crop": "vegetable-garden", "stage": "planting"}


def soil(p: float = 6) -> tuple[Result, ...]:
    return (
        Result("EC", "saturated_paste_extract", 1, "dS/m"),
        Result("P", "olsen", p, "mg/kg"),
        Result("K", "ammonium_acetate", 60, "mg/kg"),
        Result("pH", "water_1_1", 7.6),
        Result("NO3-N", "kcl_extract", 5, "mg/kg"),
    )


def answered(library: Library, *results: Result, **place: object) -> Interpretation:
    return interpret(submission(*results, **{**GARDEN, **place}), library, DAY, solver=solve)


def needs(answer: Interpretation) -> dict[str, float]:
    return {item.subject: amount_of(item) for item in answer.recommendations if item.kind == "nutrient" and item.rate}


def codes(answer: Interpretation) -> set[str]:
    return {note.text.code for note in answer.supply}


def from_bags(library: Library, answer: Interpretation) -> dict[str, float]:
    uses = tuple(use for use in answer.materials if use.subject not in ("manure", "compost"))
    return brought(library, Supplied(uses))


@pytest.mark.parametrize("material", ["steer_manure", "poultry_manure", "sheep_manure"])
def test_manure_and_bags_together_feed_once(library: Library, material: str) -> None:
    """What manure brings in its first year and what the bags bring come to the need, not to more."""
    place = {"requests": ("manure",), "organic_inputs": (OrganicInput(material),)}
    answer = answered(library, *soil(), **place)
    (manure,) = [use for use in answer.materials if use.subject == "manure"]
    analysis = analysis_of(library, material)
    share = {"N": analysis.N_first, "P2O5": analysis.P2O5, "K2O": analysis.K2O}
    bags, bare = from_bags(library, answer), from_bags(library, answered(library, *soil()))
    for name, need in needs(answer).items():
        layer = (manure.base_rate or 0.0) * (share.get(name) or 0.0)
        short = max(need - layer, 0.0)
        assert bags.get(name, 0.0) >= short * 0.975 - 0.05 * need, name
        assert bags.get(name, 0.0) <= max(short * 1.15, 0.05 * need) + 1e-6 or bags[name] <= bare[name] - layer, name
    assert bags.get("P2O5", 0.0) < bare["P2O5"]
    assert "supply.organic_brings" in codes(answer)


def test_compost_is_taken_off_too(library: Library) -> None:
    """An inch of compost brings many times the phosphate of a season: none is bought on top."""
    answer = answered(library, *soil(), requests=("compost",))
    assert from_bags(library, answer).get("P2O5", 0.0) == 0.0
    assert {use.subject for use in answer.materials} >= {"compost", "N"}
    assert "supply.organic_brings" in codes(answer)


def test_what_the_client_spreads_counts_once(library: Library) -> None:
    """Half a ton of litter an acre put on anyhow: 20 lb K2O off the bags; its nitrogen is off the need already."""
    litter = (OrganicInput("poultry_manure", amount=Quantity(0.5, "ton/acre")),)
    results = tuple(item for item in soil() if item.analyte != "P")
    answer = answered(library, *results, organic_inputs=litter)
    assert not any(item.subject == "manure" and item.rate for item in answer.recommendations)
    need, bags = needs(answer), from_bags(library, answer)
    assert bags["N"] == pytest.approx(need["N"], rel=0.15)
    assert bags["K2O"] == pytest.approx(need["K2O"] - 20 * 453.59237 / 4046.8564224, rel=0.15)


def test_the_lay_page_feeds_once_too(library: Library) -> None:
    """No line tells phosphate or potash that the manure brings whole."""
    answer = answered(library, *soil(), requests=("manure",), area=Quantity(400, "ft2"))
    assert answer.summary is not None
    told = [note.values.get("subject") for note in answer.summary.actions]
    assert Word("subject", "K2O") not in told
    (manure,) = [use for use in answer.materials if use.subject == "manure"]
    assert "K2O" in manure.serves


def test_who_asks_for_organic_sources_gets_no_salts(library: Library) -> None:
    """Asked for as a wish or told as a condition: the list is that of 7 CFR 205 either way."""
    rows = {row.material: row for row in library.rows("materials", MaterialRow)}
    answer = answered(library, *soil(), requests=("organic_only",))
    assert {rows[use.material].national_list for use in answer.materials} <= {"allowed", "restricted"}


def test_an_option_leaves_the_bags_whole_and_says_what_to_take_off(library: Library) -> None:
    answer = answered(library, *soil(), requests=("organic_only",))
    assert "supply.organic_option" in codes(answer)
    note = next(note for note in answer.supply if note.text.code == "supply.organic_option")
    assert {part.values["subject"].word for part in note.text.values["brings"]} >= {"P2O5", "K2O"}
    assert note.sources


def test_nothing_is_said_where_nothing_is_spread(library: Library) -> None:
    assert not {code for code in codes(answered(library, *soil())) if code.startswith("supply.organic")}
