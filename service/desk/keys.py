"""What makes two submissions the same case."""

import unicodedata
from dataclasses import replace
from typing import NamedTuple

import orjson

from service.agronomy.submission import Submission
from service.desk.callers import Caller
from service.desk.intake import sha256


class Keys(NamedTuple):
    """``case`` ties the revisions of one sample for one target together, ``business`` names one revision of it."""

    case: str | None
    business: str | None


def folded(name: str) -> str:
    """A name however it was typed: without outer spaces, composed (Unicode NFC), without regard to case."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name.strip()).casefold())


def keys_of(caller: Caller, submission: Submission) -> Keys:
    """Both keys; none where the laboratory or its number is not given.

    None either for a publishable key, which anybody can read in its page: a stranger who guesses a number must not
    learn of its report, much less replace it.
    """
    sample, target = submission.sample, submission.target
    if sample.laboratory is None or sample.lab_number is None or caller.publishable:
        return Keys(None, None)
    named = [caller.organization, folded(sample.laboratory), folded(sample.lab_number), target.crop, target.stage]
    return Keys(sha256(orjson.dumps(named)), sha256(orjson.dumps([*named, sample.revision])))


def content_of(submission: Submission) -> str:
    """A fingerprint of what a submission says, however its JSON was written.

    Neither the order of the results nor the way the laboratory and its number were typed makes another content.
    """
    sample = submission.sample
    laboratory, number = (name and folded(name) for name in (sample.laboratory, sample.lab_number))
    said = replace(
        submission,
        sample=replace(sample, laboratory=laboratory, lab_number=number),
        results=tuple(sorted(submission.results, key=repr)),
    )
    return sha256(orjson.dumps(said, default=list, option=orjson.OPT_SORT_KEYS))
