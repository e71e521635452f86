"""What makes two submissions the same case."""

from typing import NamedTuple

import orjson

from service.agronomy.submission import Submission
from service.desk.intake import sha256


class Keys(NamedTuple):
    """``case`` ties the revisions of one sample for one target together, ``business`` names one revision of it."""

    case: str | None
    business: str | None


def keys_of(organization: str, submission: Submission) -> Keys:
    """Both keys; none where the laboratory or its number is not given."""
    sample, target = submission.sample, submission.target
    if sample.laboratory is None or sample.lab_number is None:
        return Keys(None, None)
    named = [organization, sample.laboratory, sample.lab_number, target.crop, target.stage]
    return Keys(sha256(orjson.dumps(named)), sha256(orjson.dumps([*named, sample.revision])))
