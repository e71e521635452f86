"""The shape of an answer, for the published contract and for the tests that hold answers to it.

Answers are never made or checked with these schemas at run time: see `service.contract.answer`.
"""

import marshmallow as ma

from service.contract.answer_parts import (
    Answered,
    anything,
    day,
    flag,
    number,
    part,
    parts,
    string,
    table_of,
    texts,
    whole,
    word,
)
from service.contract.material_schema import MaterialUseSchema, SupplyNoteSchema

VERIFICATION = ("read", "computed", "practice", "memory")
SOURCES = "Ids of the answer's sources."


class AmountSchema(Answered):
    """A number with its unit."""

    value = number()
    unit = string()


class FigureSchema(Answered):
    """A reported or understood figure, or the class word in its place."""

    value = anything("A number, or a class word.")
    unit = string(null=True)


class SpanSchema(Answered):
    """A range."""

    low = number()
    high = number()


class TableRefSchema(Answered):
    """One edition of one table."""

    id = string()
    edition = string()


class EditionSchema(TableRefSchema):
    """One edition with its fingerprint."""

    sha256 = string()


class StepSchema(Answered):
    """One line of reasoning."""

    step = string(description="The step in words.")
    code = string()
    formula = string(description="Id of a row of the table formulas.")
    inputs = table_of(ma.fields.Raw(allow_none=True), "The figures that went in, by symbol.")
    value = anything("What came out.")
    unit = string()
    sources = texts(SOURCES)


class ReasonSchema(Answered):
    """Why the outcome is what it is."""

    code = string()
    severity = word("info", "warning", "withhold", "hold", "refuse")
    analyte = string(null=True)
    message = string()
    ask = string(null=True, description="What to send or order.")
    pointer = string(null=True, description="JSON pointer into the submission.")


class SummarySchema(Answered):
    """The lay page."""

    verdict = string()
    actions = texts("Three to five, in order.")
    do_not = texts()
    retest = string(null=True, examples=["2029-04"])
    contact = string()


class BandSchema(Answered):
    """The class a value fell in; null is an open end."""

    lower = number(null=True)
    upper = number(null=True)
    unit = string()
    rule = string(examples=["lower <= x < upper"])


class BorderlineSchema(Answered):
    """The neighbouring class and the chance that the true value lies in it."""

    other_rating = string()
    probability = number()


class RivalSchema(Answered):
    """What another publisher's table says of the same value."""

    calibration = string()
    rating = string()
    table = part(TableRefSchema)
    sources = texts(SOURCES)


class FindingSchema(Answered):
    """What one result means, or why it cannot be rated."""

    analyte = string()
    method = string(null=True)
    reported = part(FigureSchema, null=True)
    qualifier = word("<", ">", null=True)
    understood = part(FigureSchema, null=True)
    rating = string(null=True)
    rating_in_source = string(null=True)
    class_ = ma.fields.Nested(BandSchema, required=True, allow_none=True, data_key="class")
    borderline = part(BorderlineSchema, null=True)
    status = word("rated", "not_rated", "withheld")
    why = string()
    code = string()
    table = part(TableRefSchema, null=True)
    calibration = string(null=True)
    sources = texts(SOURCES)
    verification = word(*VERIFICATION, null=True)
    rivals = parts(RivalSchema)
    index = whole(null=True)
    depth_in = ma.fields.List(ma.fields.Float(), required=True, allow_none=True)


class EceSchema(Answered):
    """Electrical conductivity of the saturation extract."""

    value = number()
    unit = string()
    estimated = flag()
    range = part(SpanSchema, null=True)
    how = string()


class LeachingSchema(Answered):
    """Water to leach with, and what comes first."""

    kind = string()
    depth = part(AmountSchema)
    volume = part(AmountSchema, null=True)
    fraction = number(null=True)
    conditions = texts()


class AlternativeSchema(Answered):
    """A crop that would do better: by expected yield, or by its salt rating where no yield is published."""

    crop = string()
    relative_yield_pct = number(null=True)
    rating = string(null=True)


class SalinitySchema(Answered):
    """Salts, their class and what they cost the target."""

    ECe = part(EceSchema, null=True)
    class_ = ma.fields.String(required=True, data_key="class")
    relative_yield_pct = number(null=True)
    relative_yield_range = part(SpanSchema, null=True)
    leaching = part(LeachingSchema, null=True)
    alternatives = parts(AlternativeSchema)
    notes = texts()
    because = parts(StepSchema)
    sources = texts(SOURCES)
    verification = word(*VERIFICATION, null=True)


class ApplicationSchema(Answered):
    """One dose."""

    when = string()
    rate = part(AmountSchema)
    limit = string(null=True)
    from_ = ma.fields.Date(required=True, allow_none=True, data_key="from")
    to = day(null=True)
    how = texts("What goes with the dose, such as watering it in.")


class RecommendationSchema(Answered):
    """Something to do, or firmly not to do."""

    kind = word("nutrient", "amendment", "water", "practice", "none_needed", "do_not", "not_suited")
    subject = string()
    rate = part(AmountSchema, null=True)
    for_area = part(AmountSchema, null=True)
    applications = parts(ApplicationSchema)
    text = string()
    code = string()
    because = parts(StepSchema)
    calibration = string(null=True)
    table = part(TableRefSchema, null=True)
    sources = texts(SOURCES)
    verification = word(*VERIFICATION, null=True)


class EspSchema(Answered):
    """Exchangeable sodium percentage and how it was had."""

    value = number()
    how = string()


class SodiumSchema(Answered):
    """Sodium hazard."""

    SAR = number(null=True)
    SAR_adjusted = number(null=True)
    ESP = part(EspSchema, null=True)
    class_ = ma.fields.String(required=True, data_key="class")
    soil_class = string()
    gypsum = part(RecommendationSchema, null=True)
    notes = texts()
    because = parts(StepSchema)
    sources = texts(SOURCES)
    verification = word(*VERIFICATION, null=True)


class TextureSchema(Answered):
    """Texture class and where it came from."""

    class_ = ma.fields.String(required=True, data_key="class")
    group = string()
    how = string()
    sand_pct = number(null=True)
    silt_pct = number(null=True)
    clay_pct = number(null=True)
    near = texts()
    notes = texts()
    sources = texts(SOURCES)
    verification = word(*VERIFICATION, null=True)


class WaterHazardSchema(Answered):
    """One problem of irrigation water."""

    problem = string()
    restriction = word("none", "slight_to_moderate", "severe")
    value = part(AmountSchema)
    sources = texts(SOURCES)
    verification = word(*VERIFICATION)


class WaterSchema(Answered):
    """Irrigation water."""

    hazards = parts(WaterHazardSchema)
    SAR = number(null=True)
    SAR_adjusted = number(null=True)
    RSC_meq_L = number(null=True)
    notes = texts()
    because = parts(StepSchema)


class CautionSchema(Answered):
    """A safety or damage warning."""

    code = string()
    severity = word("notice", "caution", "warning", "danger")
    text = string()
    consult = string(null=True)
    sources = texts(SOURCES)
    verification = word(*VERIFICATION)


class NotAssessedSchema(Answered):
    """What nobody can judge from what was sent."""

    subject = string()
    why = string()
    ask = string()
    code = string()


class CheckSchema(Answered):
    """One check of the laboratory's figures."""

    check = string()
    status = word("pass", "warn", "fail", "not_possible")
    figures = table_of(ma.fields.Raw(allow_none=True), "The figures compared.")
    message = string()
    code = string()


class RemarkSchema(Answered):
    """A sentence that a soil scientist added."""

    phrase = string(null=True, description="Its id in the phrase list.")
    text = string()


class EditedSchema(Answered):
    """What a person changed before the report went out: the draft's rate, the new one, and why."""

    subject = string()
    was = part(AmountSchema, null=True)
    now = part(AmountSchema, null=True)
    reason = string()


class SourceSchema(Answered):
    """One cited work."""

    citation = string()
    url = string(null=True)


class ProvenanceSchema(Answered):
    """What the answer was made with."""

    engine = string()
    tables = parts(EditionSchema)
    submission_sha256 = string()
    released_by = word("rules", "person", null=True)
    authorized_by = string(null=True, description="The key of the person who decided, where a person did.")
    disclaimer = string()


class MarkSchema(Answered):
    """When it was done, and why."""

    at = ma.fields.DateTime(required=True)
    reason = string()


class StandingSchema(Answered):
    """What became of a report that must not be relied on any more."""

    voided = part(MarkSchema, null=True)
    recalled = part(MarkSchema, null=True)


class InterpretationSchema(Answered):
    """The whole answer to one submission."""

    id = string(null=True, description="Null when the answer was not kept.")
    number = string(null=True, examples=["2026-000123"])
    issued_at = ma.fields.DateTime(required=True)
    replaces = string(null=True)
    replaced_by = string(null=True)
    standing = ma.fields.Nested(
        StandingSchema, metadata={"description": "Only of a report that was voided or withdrawn by a recall."}
    )
    outcome = word("released", "partial", "held", "refused")
    crop = string(null=True)
    language = word("en", "es")
    units = word("us_garden", "us_field", "metric")
    as_of = day()
    reasons = parts(ReasonSchema)
    summary = part(SummarySchema, null=True)
    findings = parts(FindingSchema)
    salinity = part(SalinitySchema, null=True)
    sodium = part(SodiumSchema, null=True)
    texture = part(TextureSchema, null=True)
    water = part(WaterSchema, null=True)
    recommendations = parts(RecommendationSchema)
    materials = parts(MaterialUseSchema)
    supply = parts(SupplyNoteSchema)
    cautions = parts(CautionSchema)
    not_assessed = parts(NotAssessedSchema)
    quality_checks = parts(CheckSchema)
    edited = parts(EditedSchema)
    sources = table_of(ma.fields.Nested(SourceSchema), "Every work cited anywhere in the answer, by id.")
    provenance = part(ProvenanceSchema)
    remarks = parts(RemarkSchema)


class HeadingSchema(Answered):
    """One line of the list of interpretations."""

    id = string()
    number = string()
    issued_at = ma.fields.DateTime(required=True)
    outcome = word("released", "partial", "held", "refused")
    crop = string(null=True)
    laboratory = string(null=True)
    lab_number = string(null=True)
    revision = whole()
    replaces = string(null=True)
    replaced_by = string(null=True)
