"""What an answer rests on, as words that a recall asks for.

``rule:<reason>`` ``caution:<code>`` ``check:<check>`` (one that warned or failed) ``crop:<id>``
``laboratory:<name, folded>`` ``value:<analyte>:<method>`` ``table:<id>@<edition>``
``row:<table>@<edition>:<analyte>:<bounds or rating>`` ``row:<table>@<edition>:<subject>:<recommendation>``
``formula:<id>`` ``source:<id>``.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.desk.keys import folded

Document = Mapping[str, Any]
PASSED = ("pass", "not_possible")
REASONED = ("salinity", "sodium", "water")
"""Parts of an answer that show their steps."""


def words_of(document: Document, laboratory: str | None = None) -> frozenset[str]:
    """The words of one answer, as a tree before it is encoded or read from its bytes again; of a held one, the draft.

    Args:
        laboratory: who analysed the sample; it stands in the submission, not in the answer.
    """
    words = {f"rule:{item['code']}" for item in document["reasons"]}
    words.update(f"caution:{item['code']}" for item in document["cautions"])
    words.update(f"check:{item['check']}" for item in document["quality_checks"] if item["status"] not in PASSED)
    words.update(f"source:{name}" for name in document["sources"])
    words.update(f"table:{item['id']}@{item['edition']}" for item in document["provenance"]["tables"])
    words.update(_findings(document["findings"]))
    words.update(_recommended(document["recommendations"]))
    words.update(f"formula:{name}" for name in _formulas(document))
    if document["crop"]:
        words.add(f"crop:{document['crop']}")
    if laboratory:
        words.add(f"laboratory:{folded(laboratory)}")
    return frozenset(words)


def _findings(findings: Iterable[Document]) -> Iterator[str]:
    for item in findings:
        analyte, table = item["analyte"], item["table"]
        yield f"value:{analyte}:{item['method'] or ''}"
        if table:
            yield f"row:{table['id']}@{table['edition']}:{analyte}:{_row(item)}"


def _row(finding: Document) -> str:
    band = finding["class"]
    if not band:
        return str(finding["rating"])
    low, high = ("" if limit is None else f"{limit:g}" for limit in (band["lower"], band["upper"]))
    return f"{low}..{high}"


def _recommended(recommendations: Iterable[Document]) -> Iterator[str]:
    for item in recommendations:
        if table := item["table"]:
            yield f"row:{table['id']}@{table['edition']}:{item['subject']}:{item['code']}"


def _formulas(document: Document) -> Iterator[str]:
    parts = [part for name in REASONED if (part := document[name])]
    if document["sodium"] and (gypsum := document["sodium"]["gypsum"]):
        parts.append(gypsum)
    for part in (*parts, *document["recommendations"]):
        for step in part["because"]:
            if step["formula"]:
                yield step["formula"]
