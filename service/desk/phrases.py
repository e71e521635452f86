"""Sentences that reviewers add to reports: of the phrase list, in the report's language, or their own."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from service.agronomy.tables import Library, WordRow
from service.contract.problem import FieldError, invalid
from service.desk.drafting import Remark

TABLE = "phrases"


class Phrasing(NamedTuple):
    """One sentence as a reviewer chose it: the id of a phrase, or a text."""

    phrase: str | None = None
    text: str | None = None


def prepare(library: Library) -> Mapping[str, WordRow]:
    """The phrase list by id, prepared once."""
    return {row.word: row for row in library.rows(TABLE, WordRow)}


def remarks_of(notes: Iterable[Phrasing], library: Library, language: str) -> tuple[Remark, ...]:
    """The sentences for the report. Raises ProblemError 422 for an unknown phrase."""
    known = library.index(prepare)
    unknown = [index for index, note in enumerate(notes) if note.phrase is not None and note.phrase not in known]
    if unknown:
        raise invalid(_unknown(index, tuple(known)) for index in unknown)
    return tuple(_remark(note, known, language) for note in notes)


def _remark(note: Phrasing, known: Mapping[str, WordRow], language: str) -> Remark:
    if note.phrase is None:
        return Remark(None, note.text or "")
    row = known[note.phrase]
    return Remark(note.phrase, row.label_es if language == "es" else row.label_en)


def _unknown(index: int, known: tuple[str, ...]) -> FieldError:
    return FieldError(f"/notes/{index}/phrase", "unknown_word", "there is no such phrase", "one of the list", known)
