"""Salinity step by step: measured or estimated, class, cost, alternatives, ions, symptoms."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import case_of

from service.agronomy import salinity, texture
from service.agronomy.findings import Salinity
from service.agronomy.reference import reference_of
from service.agronomy.salt_effects import Candidate, hardiest, yield_at
from service.agronomy.submission import Amended, Depth, Result
from service.agronomy.tables import VERIFICATION_ORDER, Library, SaltToleranceRow

PASTE = "saturated_paste_extract"
CLASSES = ("nonsaline", "very_slightly_saline", "slightly_saline", "moderately_saline", "strongly_saline")
SHARED_LIBRARY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def judged(library: Library, *results: Result, **more: Any) -> Salinity:
    case = case_of(library, *results, **{"crop": "snap-bean", "depth": Depth(0, 6, "in"), **more})
    found = salinity.assess(case, texture.texture_of(case))
    assert found is not None
    return found


def paste(value: float, qualifier: str | None = None) -> Result:
    return Result("EC", PASTE, value, "dS/m", qualifier)


def codes(found: Salinity) -> set[str]:
    return {note.code for note in found.notes}


@pytest.mark.parametrize(
    ("ece", "name"),
    [
        (0.01, 0),
        (1.999999, 0),
        (2.0, 1),
        (2.000001, 1),
        (3.999999, 1),
        (4.0, 2),
        (7.999999, 2),
        (8.0, 3),
        (15.999999, 3),
        (16.0, 4),
        (60.0, 4),
    ],
)
@pytest.mark.formula("salt_rank")
def test_class_edges(library: Library, ece: float, name: int) -> None:
    """NRCS classes at, just below and just above each limit (Soil Survey Manual: 2, 4, 8, 16 dS/m)."""
    assert judged(library, paste(ece)).salinity_class == CLASSES[name]


@SHARED_LIBRARY
@given(one=st.floats(0.1, 40), other=st.floats(0.1, 40))
def test_more_salt_never_lowers_the_hazard(library: Library, one: float, other: float) -> None:
    """A higher ECe is never in a milder class and never yields more."""
    low, high = sorted((one, other))
    mild, grave = judged(library, paste(low)), judged(library, paste(high))
    assert CLASSES.index(mild.salinity_class) <= CLASSES.index(grave.salinity_class)
    assert (mild.relative_yield_pct or 0) >= (grave.relative_yield_pct or 0)


@pytest.mark.parametrize(("value", "unit"), [(4.0, "dS/m"), (4.0, "mmho/cm"), (4000, "uS/cm"), (400, "mS/m")])
def test_unit_does_not_move_the_class(library: Library, value: float, unit: str) -> None:
    """4 dS/m on the limit is slightly saline in any unit."""
    assert judged(library, Result("EC", PASTE, value, unit)).salinity_class == "slightly_saline"


def test_measured_soil_has_no_range(library: Library) -> None:
    """A saturated paste is the measurement itself."""
    found = judged(library, paste(3.8))
    assert found.ece is not None
    assert (found.ece.estimated, found.ece.low, found.ece.high) == (False, 3.8, 3.8)
    assert found.relative_yield_range is None


@pytest.mark.parametrize(("ece", "printed"), [(1.0, 100), (1.5, 90), (2.3, 75), (3.6, 50), (6.3, 0)])
def test_snap_bean_against_fao29(library: Library, ece: float, printed: float) -> None:
    """FAO29 table 4, bean: the printed ECe columns within their rounding."""
    assert judged(library, paste(ece)).relative_yield_pct == pytest.approx(printed, abs=1.2)


def test_snap_bean_by_one_to_two(library: Library) -> None:
    """EC 1.1 by 1:2 on sandy loam: 2.79 x 1.1 + 0.71 = 3.78 (PLOS2018 table 2), a range, provisional, never "none"."""
    found = judged(library, Result("EC", "water_1_2", 1.1, "dS/m"), texture="sandy_loam")
    assert found.ece is not None
    assert found.ece.estimated
    assert found.ece.value == pytest.approx(3.78)
    # Range: medium line 2.225 less 15 %, coarse line 3.779 plus 15 %.
    assert (found.ece.low, found.ece.high) == (pytest.approx(1.89), pytest.approx(4.35))
    assert found.salinity_class == "very_slightly_saline"
    assert found.relative_yield_pct == pytest.approx(47.2)
    assert found.relative_yield_range == (pytest.approx(36.4, abs=0.1), pytest.approx(83.1, abs=0.1))
    assert {"salt.estimated", "salt.order_paste", "salt.estimate_straddles", "salt.yield_range"} <= codes(found)
    assert "salt.texture_unknown" not in codes(found)


@pytest.mark.parametrize("method", ["water_1_1", "water_1_2", "water_1_5"])
def test_unknown_texture_widens_the_range(library: Library, method: str) -> None:
    """Without texture the range takes in every texture's lines, and the answer says why it is wide."""
    reading = Result("EC", method, 0.8, "dS/m")
    wide = judged(library, reading)
    assert "salt.texture_unknown" in codes(wide)
    assert wide.ece is not None
    for group in ("coarse", "medium", "fine"):
        narrow = judged(library, reading, texture=group).ece
        assert narrow is not None
        assert wide.ece.low <= narrow.low <= narrow.value <= narrow.high <= wide.ece.high


@SHARED_LIBRARY
@given(
    ec=st.floats(0.02, 12),
    method=st.sampled_from(["water_1_1", "water_1_2", "water_1_5"]),
    soil=st.sampled_from([None, "coarse", "medium", "fine"]),
)
def test_an_estimate_never_reads_no_hazard(library: Library, ec: float, method: str, soil: str | None) -> None:
    """Whatever the reading, an estimate is never called nonsaline, and its range holds its value."""
    found = judged(library, Result("EC", method, ec, "dS/m"), texture=soil)
    assert found.salinity_class != "nonsaline"
    assert found.ece is not None
    assert ec * 0.995 <= found.ece.low <= found.ece.value <= found.ece.high
    assert "salt.order_paste" in codes(found)


def test_saturation_percentage_sharpens_one_to_five(library: Library) -> None:
    """EC1:5 0.5 at 25 % saturation: 7.29 dS/m (SLAVICH1993), inside the range over the lines."""
    found = judged(library, Result("EC", "water_1_5", 0.5, "dS/m"), Result("SP", "saturated_paste", 25, "%"))
    assert found.ece is not None
    assert found.ece.value == pytest.approx(7.29)
    assert found.ece.low <= 7.29 <= found.ece.high


def test_below_the_reporting_limit(library: Library) -> None:
    """ "< 0.1 dS/m" lies in the lowest class as a whole; "< 3" straddles a limit and is not classed."""
    assert judged(library, paste(0.1, "<")).salinity_class == "nonsaline"
    assert judged(library, paste(3, "<")).salinity_class == "unknown"
    assert judged(library, paste(16, ">")).salinity_class == "strongly_saline"


def test_method_not_stated(library: Library) -> None:
    """EC without its method means nothing: no class, no ECe, and the method is asked for."""
    found = judged(library, Result("EC", "not_stated", 3, "dS/m"))
    assert (found.ece, found.salinity_class) == (None, "unknown")
    assert "salt.method_missing" in codes(found)


def test_nothing_on_salts(library: Library) -> None:
    """No EC, no symptom: nothing to say."""
    case = case_of(library, Result("pH", "saturated_paste", 7.5), crop="snap-bean")
    assert salinity.assess(case, None) is None


def test_alternatives_are_better_and_ranked(library: Library) -> None:
    """At ECe 5 beans give 24 %: what is listed gives more, best first, bean itself not among it."""
    found = judged(library, paste(5))
    assert found.relative_yield_pct == pytest.approx(24)
    yields = [each.relative_yield_pct for each in found.alternatives]
    assert 0 < len(yields) <= reference_of(library).factor("alternatives_shown").value
    assert yields == sorted(yields, reverse=True)
    assert min(yields) > 24
    assert "snap-bean" not in {each.crop for each in found.alternatives}


@SHARED_LIBRARY
@given(ece=st.floats(0.1, 30))
def test_thinning_loses_none_of_the_best(library: Library, ece: float) -> None:
    """The thinned list holds the best yields of the whole list at any ECe."""
    rows = [row for row in library.rows("salt-tolerance", SaltToleranceRow) if yield_at(row, 0) is not None]
    listed = [Candidate(row.crop, row, row.threshold_dS_m or 0, row.slope_pct_per_dS_m or 1) for row in rows]
    whole = {row.crop: yield_at(row, ece) or 0 for row in reversed(rows)}
    thinned = hardiest(listed, 6)
    assert len(thinned) < len(whole)
    best = sorted((yield_at(each.salt, ece) or 0 for each in thinned), reverse=True)[:6]
    assert best == sorted(whole.values(), reverse=True)[:6]


def test_no_alternatives_without_a_loss(library: Library) -> None:
    """A crop that stands its salt needs no stand-in."""
    assert judged(library, paste(1.2)).alternatives == ()


def test_rating_only_crop(library: Library) -> None:
    """Apple has a rating (S) and no slope: no yield is invented, but the limit of its rating is told (1.3 dS/m)."""
    below, above = (judged(library, paste(ece), crop="apple") for ece in (1.0, 2.0))
    assert below.relative_yield_pct is None
    assert "salt.rating_only" in codes(below)
    assert "salt.rating_above" in codes(above)


def test_crop_with_a_limit_but_no_slope(library: Library) -> None:
    """Rose keeps its looks up to 2 dS/m (MAAS1990, ornamentals): told above it, and no yield is made up."""
    for ece, told in ((2.0, False), (2.1, True)):
        found = judged(library, paste(ece), crop="rose")
        assert found.relative_yield_pct is None
        assert ("salt.over_appearance_limit" in codes(found)) == told


def test_burned_leaves(library: Library) -> None:
    """Burned edges fit where salt costs yield, and are not put down to salt where it does not."""
    seen = {"symptoms": ("leaf_edge_burn",)}
    assert "salt.burn_fits" in codes(judged(library, paste(3), **seen))
    assert "salt.burn_fits" not in codes(judged(library, paste(0.8), **seen))


def test_lawn_ratings_have_their_own_ladder(library: Library) -> None:
    """Buffalograss is rated MT, which for turf means from 6 dS/m (UDDIN2013), for crops from 3 (FAO29)."""
    lawn = {"crop": "buffalograss-lawn"}
    assert "salt.rating_only" in codes(judged(library, paste(5.999), **lawn))
    assert "salt.rating_within" in codes(judged(library, paste(6.0), **lawn))


def test_chloride(library: Library) -> None:
    """Bean: threshold 10 meq/L (MAAS1990): 10 is borne, more is not."""
    for value, told in ((10, False), (10.1, True)):
        found = judged(library, paste(2), Result("Cl", PASTE, value, "meq/L"))
        assert ("salt.chloride_high" in codes(found)) == told


def test_boron(library: Library) -> None:
    """Snap bean: 1.0 mg/L in soil water (MAAS1990), 12 % per mg/L above it; alfalfa bears 4."""
    assert "salt.boron_tolerated" in codes(judged(library, paste(1), Result("B", PASTE, 0.99, "mg/L")))
    assert "salt.boron_at_limit" in codes(judged(library, paste(1), Result("B", PASTE, 1.0, "mg/L")))
    high = judged(library, paste(1), Result("B", PASTE, 2.0, "mg/L"))
    assert "salt.boron_high" in codes(high)
    assert next(step for step in high.steps if step.step == "boron_yield").value == pytest.approx(88)
    hardy = judged(library, paste(1), Result("B", PASTE, 2.0, "mg/L"), crop="alfalfa")
    assert "salt.boron_tolerated" in codes(hardy)


def test_publishers_differ_on_onion_and_boron(library: Library) -> None:
    """Onion: 0.5 mg/L by MAAS1990, 8.9 by MG1999. The one used is told, and that the other would bear it."""
    found = judged(library, paste(1), Result("B", PASTE, 2.0, "mg/L"), crop="onion")
    assert {"salt.boron_high", "salt.boron_sources_differ"} <= codes(found)
    beans = judged(library, paste(1), Result("B", PASTE, 2.0, "mg/L"))
    assert "salt.boron_sources_differ" not in codes(beans)


def test_white_crust(library: Library) -> None:
    """A crust on soil low in salt is told apart from one that fits, and from one nobody tested."""
    seen = {"symptoms": ("white_crust",)}
    assert "salt.crust_but_low" in codes(judged(library, paste(0.8), **seen))
    assert "salt.crust_fits" in codes(judged(library, paste(6), **seen))
    assert "salt.crust_untested" in codes(judged(library, Result("pH", "saturated_paste", 8), **seen))


def test_salted_strip(library: Library) -> None:
    """De-icing salt reported: flush in spring and test, with or without an EC."""
    salted = {"amended": (Amended("deicing_salt"),)}
    assert "salt.deicing" in codes(judged(library, paste(3), **salted))
    assert "salt.deicing" in codes(judged(library, Result("pH", "saturated_paste", 8), **salted))


def test_quiet_without_explanations(library: Library) -> None:
    """Bulk work gets the same figures without steps and alternatives."""
    loud, quiet = (judged(library, paste(5), explain=explain) for explain in (True, False))
    assert quiet.steps == quiet.alternatives == ()
    assert loud.steps
    assert (quiet.ece, quiet.salinity_class, quiet.relative_yield_pct) == (
        loud.ece,
        loud.salinity_class,
        loud.relative_yield_pct,
    )


def test_every_step_of_a_figure_from_a_table_has_its_source(library: Library) -> None:
    """Class and yield cite their rows, and the part cites them all and carries a mark."""
    found = judged(library, paste(3))
    for step in found.steps:
        if step.step in ("salinity_class", "relative_yield"):
            assert step.sources
            assert set(step.sources) <= set(found.sources)
    assert found.verification in VERIFICATION_ORDER


def test_no_slope_no_yield(library: Library) -> None:
    """A row without a slope gives no yield at any ECe."""
    crop = library.crops["apple"]
    assert yield_at(crop.salt, 0.0) is None
    assert yield_at(None, 5.0) is None
