"""Recalls: by what they call reports back, and what is shown of them."""

from typing import Any

import marshmallow as ma

from service.contract.answer_parts import Answered, anything, flag, parts, string, texts, whole
from service.contract.desk_schema import LONGEST, AnyDay
from service.contract.fields import Items, Number, Part, Text
from service.contract.shape import Shape, refuse

FAR = 1e9


class ValueForm(Shape):
    """Results of one analyte, by one method or by any, in a range; either end may be open."""

    analyte = Text(required=True, longest=40)
    method = Text(longest=60)
    low = Number(low=-FAR, high=FAR)
    high = Number(low=-FAR, high=FAR)
    unit = Text(longest=40, metadata={"description": "Of low and high; the method's own if not given."})


class RecallForm(Shape):
    """Reports that meet everything given are called back."""

    reason = Text(required=True, longest=LONGEST)
    value = Part(ValueForm)
    rule = Text(longest=200, metadata={"description": "The code of a reason."})
    caution = Text(longest=200)
    check_ = Text(longest=200, data_key="check", attribute="check")
    formula = Text(longest=200)
    source = Text(longest=200)
    crop = Text(longest=80)
    table = Text(longest=80)
    edition = Text(longest=40, metadata={"description": "Of the table; every edition if not given."})
    row = Text(longest=240, metadata={"description": "As GET /v1/recalls/rows lists it."})
    laboratory = Text(longest=100)
    lab_numbers = Items(Text(longest=100), most=2000, least=1, unique=True, metadata={"description": "A batch."})
    from_ = AnyDay(data_key="from", attribute="from", metadata={"description": "First day of issue."})
    to = AnyDay(metadata={"description": "Last day of issue."})
    county = Text(longest=80)

    @ma.post_load
    def build(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Something must be looked for."""
        if len(data) < 2:
            refuse("rule", "nothing_named", "nothing says which reports are meant", "at least one criterion")
        if "edition" in data and "table" not in data:
            refuse("edition", "no_table", "an edition needs its table", "table and edition")
        return data


class StateCountSchema(Answered):
    """How many reports of one office and outcome stand where in the recall."""

    organization = string()
    outcome = string()
    state = string(examples=["listed", "held", "reissued", "lifted"])
    reports = whole()


class RecallHeadingSchema(Answered):
    """One recall."""

    id = string()
    organization = string()
    at = string(format="date-time")
    by = string()
    reason = string()
    criteria = anything("What was looked for.")
    found = whole()


class RecallSchema(RecallHeadingSchema):
    """One recall and where its reports stand."""

    counts = parts(StateCountSchema)


class CalledSchema(Answered):
    """One report of a recall."""

    id = string()
    organization = string()
    number = string()
    issued_on = string(format="date")
    outcome = string()
    laboratory = string(null=True)
    state = string()
    replaced_by = string(null=True)
    voided = flag()


class RedoneSchema(Answered):
    """What one round of issuing anew did; repeat it while reports are left."""

    reissued = whole()
    failed = texts("Reports that the tables of today cannot read.")
    left = whole()


class RowSchema(Answered):
    """One row of a table that reports rest on."""

    row = string()
