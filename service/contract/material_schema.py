"""The shape of the materials of an answer, for the published contract and the tests that hold answers to it."""

import marshmallow as ma

from service.contract.answer_parts import Answered, day, number, part, parts, string, table_of, texts, whole, word

VERIFICATION = ("read", "computed", "practice", "memory")


class WeightSchema(Answered):
    """A weight or a rate with its unit."""

    value = number()
    unit = string()


class MaterialDoseSchema(Answered):
    """One dose of a material."""

    when = string()
    amount = part(WeightSchema, null=True)
    rate = part(WeightSchema)
    household = string(null=True, description="The same in kitchen measures, with its scatter.")
    from_ = ma.fields.Date(required=True, allow_none=True, data_key="from")
    to = day(null=True)


class BagsSchema(Answered):
    """Bags to buy beyond what is at hand, and what is left over."""

    count = whole()
    size = part(WeightSchema)
    left_over = part(WeightSchema)


class MaterialStepSchema(Answered):
    """One line of reasoning."""

    step = string()
    code = string()
    formula = string(description="Id of a row of the table formulas.")
    inputs = table_of(ma.fields.Raw(allow_none=True), "The figures that went in, by symbol.")
    value = ma.fields.Raw(required=True, allow_none=True)
    unit = string()
    sources = texts("Ids of the answer's sources.")


class MaterialUseSchema(Answered):
    """A material weighed out for this ground; ``supplies`` is what it brings of the subject."""

    subject = string(description="The recommendation it serves first.")
    serves = texts("All recommendations it serves.")
    material = string(description="Id of /v1/materials, or the client's own id of a product.")
    name = string()
    grade = string(null=True, examples=["21-0-0-24S"])
    amount = part(WeightSchema)
    rate = part(WeightSchema)
    supplies = part(WeightSchema, null=True)
    per_application = parts(MaterialDoseSchema)
    household = string(null=True, examples=["about 6 pints, ±15 %"])
    also_supplies = table_of(ma.fields.Nested(WeightSchema), "What else it brings, per area or per tree.")
    bags = part(BagsSchema, null=True)
    how = texts("What to mind in spreading it.")
    why = string()
    code = string()
    because = parts(MaterialStepSchema)
    sources = texts("Ids of the answer's sources.")
    verification = word(*VERIFICATION, null=True)


class SupplyNoteSchema(Answered):
    """What there is to say of the choice of materials as a whole."""

    kind = word("short", "nearest", "left_out", "advice")
    text = string()
    code = string()
    materials = texts("Ids of the materials it is about.")
    sources = texts("Ids of the answer's sources.")
    verification = word(*VERIFICATION, null=True)
