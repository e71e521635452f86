"""Results that come with a label find the form of the counter that the label was printed for."""

from collections.abc import Mapping
from typing import Any, NamedTuple

import orjson

from service.contract.json_body import read_json
from service.contract.problem import FieldError, invalid
from service.contract.signs import refuse_hidden
from service.desk import labels
from service.desk.callers import LABORATORY, Caller
from service.desk.joining import Conflict, join
from service.desk.office import Office
from service.desk.sample_states import OVER
from service.store.samples import Sample

POINTER = "/sample/label"
RIGHT = "a label as it was printed, such as 4H7-KQ2M-X"


class Enrolled(NamedTuple):
    """What is to be interpreted: the body as joined, the sample it belongs to, and what contradicted."""

    body: bytes
    sample: Sample | None = None
    conflicts: tuple[Conflict, ...] = ()


def enrol(caller: Caller, office: Office, body: bytes) -> Enrolled:
    """The submission with what the form of its label knows; as it came where it has no label of ours.

    Raises:
        ProblemError: 422 for a label whose check character is wrong, that nobody has printed, that belongs to a
            laboratory or office out of sight, or whose sample is cancelled or closed.
    """
    label = _label(body)
    if label is None or office.store is None:
        return Enrolled(body)
    document = read_json(body)
    found = _sample(caller, office, label)
    joined = join(form_of(orjson.loads(found.document), found.label, document), document)
    return Enrolled(orjson.dumps(joined.document), found, joined.conflicts)


def form_of(kept: Mapping[str, Any], label: str, sent: Mapping[str, Any]) -> dict[str, Any]:
    """The form as a submission without results: of its targets the one that the results are for."""
    sample = {**(kept.get("sample") or {}), "label": label, "place": kept.get("place")}
    target, site = _target(kept, sent), kept.get("site")
    return {"sample": sample, "target": target, "site": site, "options": {"language": kept.get("language")}}


def _target(kept: Mapping[str, Any], sent: Mapping[str, Any]) -> Any:
    """The form's target of the crop, best also of the stage, that was sent; its first where none is."""
    wanted = sent.get("target")
    targets = [target for target in (kept.get("target"), *(kept.get("more_targets") or ())) if target]
    if not isinstance(wanted, dict) or not targets:
        return targets[0] if targets else None
    return max(targets, key=lambda target: [target.get(name) == wanted.get(name) for name in ("crop", "stage")])


def _label(body: bytes) -> str | None:
    """The label of a submission that can be read; everything else about it is checked later."""
    if b'"label"' not in body:
        return None
    document: Any = read_json(body)
    refuse_hidden(document, body)
    sample = document.get("sample") if isinstance(document, dict) else None
    label = sample.get("label") if isinstance(sample, dict) else None
    return label if isinstance(label, str) and label else None


def _sample(caller: Caller, office: Office, typed: str) -> Sample:
    label = labels.read(typed)
    if label is None:
        raise _wrong("wrong_label", "the check character of this label is wrong: something in it was mistyped")
    with office.records.reading() as reading:
        found = reading.samples.labelled(label)
    if found is None or not _in_sight(caller, found):
        raise _wrong("unknown_label", "no sample of this label is expected from you")
    if found.status in OVER:
        raise _wrong("sample_over", f"the sample of this label is {found.status}")
    return found


def _in_sight(caller: Caller, sample: Sample) -> bool:
    """A sample in sight, or one for which the counter named no laboratory: then any that holds the labelled bag.

    Whoever reads the key in a page must not write results into a sample, however they came by its label.
    """
    free = sample.laboratory is None and caller.kind == LABORATORY and caller.sandbox == sample.sandbox
    return not caller.publishable and (free or in_sight(caller, sample))


def in_sight(caller: Caller, sample: Sample) -> bool:
    """Whether a sample is the caller's: taken in by the own office, or to be tested here; for the programme all."""
    own = caller.organization in (sample.organization, sample.laboratory)
    return own or (caller.sees_all and not sample.sandbox)


def _wrong(code: str, message: str) -> Exception:
    return invalid([FieldError(POINTER, code, message, RIGHT)])
