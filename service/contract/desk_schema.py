"""What becomes of an issued report: voiding, links, notices; and what is counted."""

from datetime import date
from typing import Any

import marshmallow as ma

from service.contract.answer_parts import Answered, anything, flag, number, part, parts, string, table_of, whole, word
from service.contract.answer_schema import MarkSchema
from service.contract.fields import Strict, Text, Whole, fault, shown
from service.contract.shape import Shape

LONGEST = 2000
LONGEST_LINK = 1095


class AnyDay(Strict, ma.fields.Date):
    """A calendar day, past or to come."""

    right = "a day such as 2026-04-11"

    def read(self, value: Any) -> Any:
        """The day."""
        try:
            if len(value) != len("2026-04-11"):
                raise ValueError
            return date.fromisoformat(value)
        except (TypeError, ValueError):
            raise fault("not_a_date", f"{shown(value)} is not a date", self.right) from None


class ReasonForm(Shape):
    """Why it is done."""

    reason = Text(required=True, longest=LONGEST)


class LinkForm(Shape):
    """A new address for a client."""

    days = Whole(low=1, high=LONGEST_LINK, metadata={"description": "How long it lasts; 365 if not given."})


class LinkSchema(Answered):
    """An address with which a client opens a report, without what makes it unguessable. Moments are in UTC."""

    id = string()
    interpretation = string()
    created_at = string(format="date-time")
    created_by = string()
    expires_at = string(format="date-time")
    revoked_at = string(null=True, format="date-time")


class NewLinkSchema(LinkSchema):
    """A new address, shown this once."""

    url = string(description="The whole address; it is not kept and cannot be shown again.")
    printed = string(description="The same as people type it from paper.")
    qr_svg = string(description="The address as a QR code (ISO/IEC 18004), an SVG image.")


class AskedSchema(Answered):
    """Where a report stands with the reviewer."""

    state = string()
    asked = string(null=True, description="What the reviewer asked for.")


class WhereItStandsSchema(Answered):
    """How a report stands today."""

    outcome = string()
    replaced_by = string(null=True)
    voided = part(MarkSchema, null=True)
    recalled = part(MarkSchema, null=True)
    review = part(AskedSchema, null=True)


class NoticeSchema(Answered):
    """Something that the organization has to be told; ids, no names."""

    id = string()
    kind = string(examples=["interpretation.released", "interpretation.recalled", "sample.status"])
    object_id = string()
    at = ma.fields.DateTime(required=True)
    detail = anything("What else is to be known, by kind.")


class LineSchema(Answered):
    """One office in one month. Waits run from receipt of the sample to the first report given out."""

    organization = string()
    month = string(examples=["2026-04"])
    reports = whole()
    corrections = whole()
    outcomes = table_of(ma.fields.Integer(), "Reports by outcome.")
    released_unread = whole()
    share_unread = number(null=True, description="Of those given out, the share that no person had read.")
    waited = whole()
    median_days = number(null=True)
    p90_days = number(null=True)
    holds = table_of(ma.fields.Integer(), "Cases on the desk by reason to hold.")


class StatisticsSchema(Answered):
    """Counts by office and month."""

    items = parts(LineSchema)


class CountySchema(Answered):
    """One county in one year."""

    county = string()
    reports = ma.fields.Integer(required=True, allow_none=True)
    median_days = number(null=True)
    p90_days = number(null=True)
    hidden = flag()


class CountiesSchema(Answered):
    """Counts by county; those of fewer than ten clients are hidden."""

    items = parts(CountySchema)


class PointSchema(Answered):
    """One result."""

    interpretation = string()
    value = number(null=True)
    number = string()
    day = string(format="date")
    qualifier = string(null=True)


class TrendSchema(Answered):
    """One analyte by one method at one depth over the years, oldest first, and the step to the newest."""

    analyte = string()
    method = string()
    unit = string()
    depth_in = anything("Top and bottom in inches.")
    points = parts(PointSchema)
    change = number(null=True, description="The newest minus the one before.")
    noise = number(null=True, description="What two results of this method may differ by chance (95 %).")
    verdict = word("noise", "rise", "fall", "unknown")
    seasonal = flag()


class HistorySchema(Answered):
    """What changed at this place since earlier samples; only what is comparable."""

    items = parts(TrendSchema)
