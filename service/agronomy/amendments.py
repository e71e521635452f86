"""A total split into doses that keep the cap per application, and the soil layer that an amount is worked out for."""

from math import ceil
from typing import NamedTuple

from service.agronomy.findings import NOTHING, Application, Note, Reason, Recommendation, Values
from service.agronomy.ledger import Ledger
from service.agronomy.reference import Cap, reference_of
from service.agronomy.sample import Case
from service.agronomy.tables import Row
from service.agronomy.units import scaled

TURF_KINDS = frozenset(("lawn", "turf"))
TILLED_STAGES = frozenset(("planning", "seeding", "sodding", "planting"))
COMMON_PRACTICE = ("practice",)
CAP_SUBJECTS = {"sulfur": "S"}
"""Subjects whose caps stand under another name in the table."""


class Layer(NamedTuple):
    """The sampled layer: thickness in inches, bulk density in g/cm3, and whether the density is only assumed."""

    thickness_in: float
    bulk_density: float
    assumed: bool


def layer_of(case: Case) -> Layer | None:
    """The layer that amounts are worked out for; ``None`` when nobody said how deep the sample was taken."""
    if case.depth_in is None or case.depth_in[1] <= case.depth_in[0]:
        return None
    measured = case.find("bulk_density")
    thickness = case.depth_in[1] - case.depth_in[0]
    if measured is not None and measured.value:
        return Layer(thickness, measured.value, False)
    return Layer(thickness, reference_of(case.library).factor("soil_bulk_density_default").value, True)


def standing_turf(case: Case) -> bool:
    """Whether the ground is an established lawn: nothing can be worked in, doses go on top."""
    return case.crop is not None and case.crop.kind in TURF_KINDS and case.submission.target.stage not in TILLED_STAGES


class Plan(NamedTuple):
    """So many equal doses, each in g/m2, under the cap that set their number."""

    doses: int
    dose: float
    cap: Cap | None


def plan(g_m2: float, cap: Cap | None) -> Plan:
    """Equal doses, as few as the cap allows; one when there is no cap."""
    if cap is None or cap.g_m2 <= 0 or scaled(g_m2) <= scaled(cap.g_m2):
        return Plan(1, g_m2, cap)
    count = ceil(scaled(g_m2) / scaled(cap.g_m2))
    return Plan(count, g_m2 / count, cap)


def cap_for(case: Case, subject: str) -> Cap | None:
    """The cap per application that holds for this ground: on a standing lawn the turf cap, else the one for tilled."""
    use = "turf" if standing_turf(case) else "tilled"
    return reference_of(case.library).cap(CAP_SUBJECTS.get(subject, subject), use)


def applications(case: Case, planned: Plan, subject: str, between: Values = NOTHING) -> tuple[Application, ...]:
    """The doses as the client reads them: one line for all, since they are equal. ``between``: what goes with each."""
    values = {"count": planned.doses, **between}
    when = Note(f"when.{subject}_once" if planned.doses == 1 else f"when.{subject}_split", values)
    limit = None
    if planned.cap is not None:
        limit = Note(f"limit.{subject}", {"maximum": case.units.rate(planned.cap.g_m2)})
    return (Application(when, case.units.rate(planned.dose), limit),)


def amendment(
    case: Case, subject: str, text: Note, g_m2: float, ledger: Ledger, between: Values = NOTHING
) -> Recommendation:
    """An amount of amendment in the client's units, split under its cap, with what it rests on."""
    planned = plan(g_m2, cap_for(case, subject))
    ledger.use(planned.cap.row if planned.cap else None)
    found = answer("amendment", subject, text, ledger)
    found.rate = case.units.rate(g_m2)
    found.for_area = case.units.total(g_m2)
    found.applications = applications(case, planned, subject, between)
    found.base_rate = g_m2
    return found


def answer(kind: str, subject: str, text: Note, ledger: Ledger) -> Recommendation:
    """A recommendation without an amount: do not, none needed, not suited, or something to do."""
    cited = ledger.cited()
    return Recommendation(
        kind,
        subject,
        text,
        because=tuple(ledger.steps),
        sources=cited.sources or (COMMON_PRACTICE if ledger.explain else ()),
        verification=cited.verification or (COMMON_PRACTICE[0] if ledger.explain else None),
        table=cited.table,
    )


def withheld(subject: str, why: str, values: Values = NOTHING, *rows: Row) -> Recommendation:
    """No amount for something the client asked for: do not guess, get this first.

    The code serves three messages: ``rec.<why>`` what to do now, ``reason.<why>`` why it was left out, ``ask.<why>``
    what to send or order.
    """
    ledger = Ledger(True)
    ledger.use(*rows)
    found = answer("do_not", subject, Note(f"rec.{why}", values), ledger)
    found.reason = Reason(why, "withhold", subject, values, Note(f"ask.{why}", values))
    return found
