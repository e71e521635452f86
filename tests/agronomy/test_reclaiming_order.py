"""Reclaiming in its order: drainage, calcium, washing, a new test; and no washing that nothing calls for."""

from typing import Any

import pytest
from making import case_of
from phreeqpython import PhreeqPython

from service.agronomy import reaction, requests, salinity, sodium, texture
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Note, Recommendation, Salinity, Sodium
from service.agronomy.ground import ASKS
from service.agronomy.gypsum import water_to_dissolve
from service.agronomy.reference import reference_of
from service.agronomy.submission import Depth, IrrigationWater, Quantity, Result
from service.agronomy.tables import Library
from service.render.catalogue import Catalogue
from service.render.words import Words

PASTE = "saturated_paste_extract"
MM_PER_INCH = 25.4


def paste(analyte: str, value: float, unit: str = "meq/L") -> Result:
    return Result(analyte, PASTE, value, unit)


def ions(Na: float, Ca: float, Mg: float) -> tuple[Result, ...]:
    return paste("Na", Na), paste("Ca", Ca), paste("Mg", Mg)


def nitrate(value: float, depth: Depth | None = None) -> Result:
    return Result("NO3-N", "kcl_extract", value, "mg/kg", depth=depth)


CEC = Result("CEC", "ammonium_acetate_displacement", 18, "meq/100 g")
FIZZ = Result("lime", "acid_fizz", text="strong")
STRIP = (paste("EC", 7.8, "dS/m"), *ions(62, 11, 5), CEC, FIZZ)
"""A strip of bluegrass along a salted road, SAR 22."""
COTTON = (paste("EC", 9.4, "dS/m"), *ions(70, 16, 12), CEC, Result("lime", "calcimeter", 8, "%"))
"""Saline-sodic clay."""


class Answer:
    """Salts, sodium and recommendations of one case."""

    def __init__(self, library: Library, *results: Result, **more: Any) -> None:
        case = case_of(library, *results, **{"depth": Depth(0, 6, "in"), **more})
        soil = texture.texture_of(case)
        self.salts: Salinity | None = salinity.assess(case, soil)
        self.sodium: Sodium | None = sodium.assess(case, self.salts, soil)
        acidity = reaction.assess(case, soil)
        self.given = requests.answer(case, self.salts, self.sodium, acidity, soil)

    def of(self, subject: str) -> Recommendation:
        return next(item for item in self.given if item.subject == subject)

    @property
    def codes(self) -> set[str]:
        notes = [*(self.salts.notes if self.salts else ()), *(self.sodium.notes if self.sodium else ())]
        return {note.code for note in notes} | {item.text.code for item in self.given}


def strip(library: Library, **more: Any) -> Answer:
    area = {"crop": "kentucky-bluegrass-lawn", "area": Quantity(8000, "ft2"), "requests": ("gypsum", "leaching")}
    return Answer(library, *STRIP, **{**area, "drainage": "free", **more})


def cotton(library: Library, **more: Any) -> Answer:
    field = {"crop": "cotton", "stage": "planning", "area": Quantity(110, "acre"), "drainage": "slow"}
    return Answer(library, *COTTON, **{**field, "requests": ("gypsum", "sulfur", "leaching"), **more})


def test_gypsum_then_washing_with_a_stated_depth(library: Library) -> None:
    """A drained sodic strip: gypsum in doses, washing after the first one, and no "do not leach" beside it (HB60)."""
    answer = strip(library)
    gypsum, washing = answer.of("gypsum"), answer.of("leaching")
    assert (gypsum.kind, washing.kind) == ("amendment", "water")
    assert washing.text.code == "rec.leaching_after_gypsum_area"
    assert washing.applications[0].when.code == "when.leach_after_gypsum"
    assert gypsum.applications[0].when.values["water"] == washing.rate
    assert not [item for item in answer.given if item.kind == "do_not"]


def test_the_washing_is_enough_for_salt_and_for_gypsum(library: Library) -> None:
    """From ECe 7.8 to the 3 dS/m that sensitive turf stands (HARIVANDI1992): 0.1 x 12 x 7.8 / 3 = 3.12 in by k = 0.1
    (HOFFMAN1980). That is more than the 2.7 in that dissolve 36.7 lb gypsum per 1,000 ft2 at 30 meq/L (HB60)."""
    answer = strip(library)
    washing = answer.of("leaching")
    assert washing.rate is not None
    assert washing.rate.value == pytest.approx(3.12, abs=0.005)
    step = next(step for step in washing.because if step.step == "gypsum_water")
    assert step.value == pytest.approx(2.73 * MM_PER_INCH, rel=0.01)


def test_sodic_soil_without_much_salt_takes_the_dissolving_water(library: Library) -> None:
    """SAR 17 at ECe 2.1: no salt to wash out, so the depth is what dissolves the first dose."""
    answer = strip(library, crop="athletic-field")
    fresh = Answer(
        library,
        *(paste("EC", 2.1, "dS/m"), *ions(19, 1.6, 0.9), CEC, FIZZ),
        crop="athletic-field",
        drainage="free",
    )
    gypsum, washing = fresh.of("gypsum"), fresh.of("leaching")
    assert gypsum.base_rate is not None
    assert washing.rate is not None
    doses = gypsum.applications[0].when.values["count"]
    grams_per_litre = 30 * 86.082 / 1000
    assert washing.rate.value == pytest.approx(gypsum.base_rate / doses / grams_per_litre / MM_PER_INCH, rel=0.01)
    assert answer.of("leaching").rate != washing.rate


def test_dissolving_water_against_a_chemistry_program() -> None:
    """PHREEQC: a litre of pure water takes up 15.1 mmol of calcium from gypsum; 10 g/m2 then need about 3.85 mm."""
    pure = PhreeqPython().add_solution({})
    pure.saturate("Gypsum")
    grams = pure.total("Ca", units="mmol") * 172.17 / 1000
    assert water_to_dissolve(10, 30) == pytest.approx(10 / grams, rel=0.02)
    for gypsum, solubility in ((-1, 30), (1, 0)):
        with pytest.raises(OutOfRange):
            water_to_dissolve(gypsum, solubility)


def test_standing_water_comes_before_calcium_and_washing(library: Library) -> None:
    """Saline-sodic cotton on slow ground: neither gypsum nor washing, both ask for a way out of the water and for
    nothing that was sent, and none of them says that no leaching is needed."""
    answer = cotton(library)
    gypsum, washing = answer.of("gypsum"), answer.of("leaching")
    assert (gypsum.kind, washing.kind) == ("do_not", "do_not")
    assert washing.text.code == "rec.leaching_waits"
    for item in (gypsum, washing):
        assert item.reason is not None
        assert item.reason.ask == Note("ask.first", {"what": (Note("ask.need.outlet"),)})
    assert answer.of("drainage").text.code == "rec.drain_first_sodium"
    assert "rec.leaching_none" not in answer.codes


def test_unasked_washing_of_a_sodic_soil_is_no_reason(library: Library) -> None:
    """Nobody asked for leaching: the do not stands, the outcome does not hang on it."""
    washing = cotton(library, requests=()).of("leaching")
    assert (washing.kind, washing.reason) == ("do_not", None)


@pytest.mark.parametrize("more", [{}, {"symptoms": ("ponding",)}, {"hard_layer_depth": Quantity(10, "in")}])
def test_no_way_out_is_told_once(library: Library, more: dict[str, Any]) -> None:
    """Whatever shows that water has no way out, drainage is the first thing to do; signs of puddling say it already."""
    answer = cotton(library, **{"drainage": "free" if more else "slow", **more})
    told = [item for item in answer.given if item.subject == "drainage"]
    assert bool(told) == ("symptoms" not in more)
    assert "sodium.gypsum_withheld" in answer.codes


@pytest.mark.parametrize(
    ("left_out", "more", "asks"),
    [
        ({"CEC"}, {}, ["ask.need.cec"]),
        ({"CEC"}, {"drainage": None}, ["ask.need.drainage", "ask.need.cec"]),
        (set(), {"depth": None}, ["ask.need.depth"]),
        (set(), {"drainage": "unknown"}, ["ask.need.drainage"]),
    ],
)
def test_only_what_is_missing_is_asked_for(
    library: Library, left_out: set[str], more: dict[str, Any], asks: list[str]
) -> None:
    """The ask names what is truly missing and nothing that was sent."""
    results = [item for item in STRIP if item.analyte not in left_out]
    more = {"crop": "tall-fescue-lawn", "drainage": "free", **more}
    reason = Answer(library, *results, requests=("gypsum",), **more).of("gypsum").reason
    assert reason is not None
    assert reason.ask is not None
    assert [note.code for note in reason.ask.values["what"]] == asks


def test_every_obstacle_is_worded(library: Library) -> None:
    """Each obstacle and what removes it has a sentence in both languages."""
    catalogue = Catalogue()
    for language in ("en", "es"):
        assert {*ASKS, *ASKS.values()} <= set(catalogue.entries[language])
        words = Words(language, catalogue)
        said = words.say(Note("ask.first", {"what": (Note("ask.need.cec"), Note("ask.need.outlet"))}))
        assert said[0].isupper()
        assert "[" not in said


def test_sulfur_as_calcium_in_a_limy_sodic_soil(library: Library) -> None:
    """Sulfur frees the calcium of lime: one part for 5.4 of gypsum (HB60), an option a person compares. A wish to lower
    pH keeps its do not, and without lime there is nothing to set free."""
    option = cotton(library).of("sulfur")
    assert (option.kind, option.text.code, option.rate) == ("practice", "rec.sulfur_for_calcium", None)
    assert option.text.values["times"] == pytest.approx(5.4)
    assert cotton(library, requests=("sulfur", "lower_ph")).of("sulfur").kind == "do_not"
    bare = [item for item in COTTON if item.analyte != "lime"] + [Result("lime", "acid_fizz", text="none")]
    limeless = Answer(library, *bare, crop="cotton", requests=("sulfur",))
    assert limeless.of("sulfur").text.code != "rec.sulfur_for_calcium"


def test_the_soils_own_gypsum(library: Library) -> None:
    """CEC 18 and ESP 20.8 to 10 takes 1.95 meq/100 g (HB60), 0.168 % gypsum. What the soil holds is taken off, and
    enough of it leaves none to buy, with washing alone."""

    def limy(*more: Result) -> Answer:
        return Answer(library, *COTTON, *more, crop="cotton", area=Quantity(110, "acre"), drainage="free")

    def holding(percent: float) -> Answer:
        return limy(Result("gypsum", "acetone_precipitation", percent, "%"))

    without, some, enough = limy(), holding(0.1), holding(0.17)
    assert "sodium.gypsum_content" in without.codes
    assert "sodium.gypsum_content" not in some.codes
    full, less = without.of("gypsum").base_rate, some.of("gypsum").base_rate
    assert full is not None
    assert less is not None
    assert less / full == pytest.approx(1 - 0.1 / 0.168, abs=0.01)
    assert (enough.of("gypsum").kind, enough.of("gypsum").text.code) == ("none_needed", "rec.gypsum_own")
    assert enough.of("leaching").text.code == "rec.leaching_reclamation_area"


WATER = IrrigationWater((Result("EC", "water_sample", 0.9, "dS/m"),), applied=Quantity(20, "in"))


def corn(library: Library, ECe: float, *results: Result, **more: Any) -> Answer:
    """Corn silage begins to lose at 1.8 dS/m, 7.4 % per dS/m (MAAS1990)."""
    field = {"crop": "corn-silage", "stage": "planting", "area": Quantity(72, "acre"), "drainage": "free"}
    return Answer(library, paste("EC", ECe, "dS/m"), *results, irrigation_water=WATER, **{**field, **more})


def test_no_leaching_below_the_threshold(library: Library) -> None:
    """Measured 1.3 dS/m under the threshold of 1.8: the water's own salt asks for no extra water, whatever the season.
    Its share, 11 %, is what ordinary watering loses anyway (FAO29: 15 %)."""
    answer = corn(library, 1.3, nitrate(22))
    assert answer.salts is not None
    assert answer.salts.leaching is None
    assert "salt.leaching_share_usual" in answer.codes
    assert [item for item in answer.given if item.subject in ("irrigation", "leaching")] == []


@pytest.mark.parametrize(("ppm", "warned"), [(19.9, False), (20, True)])
def test_nitrate_is_warned_of_where_water_is_to_drain(library: Library, ppm: float, warned: bool) -> None:
    """Over the threshold the share is advised; with much nitrate in any layer never without its warning."""
    deep = Depth(8, 24, "in")
    answer = corn(library, 2.4, nitrate(4), nitrate(ppm, deep))
    practice = answer.of("irrigation")
    assert (practice.kind, practice.rate) == ("practice", None)
    assert practice.text.code.endswith("_nitrate") == warned


def test_field_water_in_acre_feet(library: Library) -> None:
    """72 acres: 20 in of water and 11.1 % of it are 2.5 in more, 15 acre-feet, not millions of gallons."""
    answer = corn(library, 2.4, options={"units": "us_field"})
    assert answer.salts is not None
    leaching = answer.salts.leaching
    assert leaching is not None
    assert leaching.volume == Quantity(15, "acre-ft")


@pytest.mark.parametrize(
    ("ece", "requested", "kind"), [(2.6, (), "practice"), (2.6, ("leaching",), "water"), (5.0, (), "water")]
)
def test_a_small_loss_on_a_field_is_left_to_watering(
    library: Library, ece: float, requested: tuple[str, ...], kind: str
) -> None:
    """Market chile, 1.5 dS/m and 14 % per dS/m (MAAS1990): 15 % lost at 2.6 is no reclamation unless asked for."""
    answer = Answer(
        library,
        *(paste("EC", ece, "dS/m"), *ions(12, 9, 5)),
        crop="market-chile",
        stage="seeding",
        drainage="free",
        irrigation_water=WATER,
        requests=requested,
    )
    assert answer.of("leaching" if kind == "water" else "irrigation").kind == kind


def test_leaching_asked_for_where_salt_costs_little(library: Library) -> None:
    """Alfalfa at 2.6 dS/m loses 4.4 % (MAAS1990: 2.0, 7.3): no washing, and the loss is not denied."""
    answer = Answer(library, paste("EC", 2.6, "dS/m"), crop="alfalfa", requests=("leaching",))
    washing = answer.of("leaching")
    assert (washing.kind, washing.text.code) == ("none_needed", "rec.leaching_little")
    assert washing.text.values["loss"] == pytest.approx(4.4)


def test_salty_ground_without_drainage_says_so_in_a_practice(library: Library) -> None:
    """Alfalfa at 6.5 dS/m on slow ground, nothing asked: drainage is something to do, and salt is its reason."""
    answer = Answer(library, paste("EC", 6.5, "dS/m"), *ions(9, 20, 10), crop="new-alfalfa", drainage="slow")
    assert answer.of("drainage").text.code == "rec.drain_first_salt"
    assert answer.of("leaching").kind == "do_not"


def test_the_readings_are_left_alone(library: Library) -> None:
    """A soil with nothing wrong gets none of this."""
    answer = Answer(library, paste("EC", 1.0, "dS/m"), *ions(2, 6, 3), crop="alfalfa", drainage="slow")
    assert {item.subject for item in answer.given} <= {"gypsum", "lime"}
    assert reference_of(library).factor("gypsum_solubility_meq_L").value == 30
