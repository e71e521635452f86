"""A case that holds no laboratory results: for the functions of the interpretation that take a whole case."""

from datetime import date

from service.agronomy.calculations.given import Given
from service.agronomy.sample import Case
from service.agronomy.submission import Options, Sample, Site, Submission, Target
from service.agronomy.units import ClientUnits


def bare_case(given: Given, crop: str | None = None, as_of: date = date.min, zone: str | None = None) -> Case:
    """The ground of a calculation as the interpretation sees it: established, nothing known of its soil."""
    target = Target(crop, None if crop is None else "established", given.get("area"))
    submission = Submission(Sample(), (), target, Site(zone=zone), Options(as_of, given.system))
    return Case(
        submission=submission,
        library=given.library,
        crop=None if crop is None else given.library.crops[crop],
        as_of=as_of,
        explain=True,
        units=ClientUnits(given.system, given.area_m2),
        soil=(),
        layers=(),
        water=(),
        depth_in=None,
        area_m2=given.area_m2,
        voids={},
        weakened={},
        by_analyte={},
        water_by_analyte={},
    )
