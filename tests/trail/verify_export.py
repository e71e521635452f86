"""Proves an export of the trail with Python's standard library alone: python3 verify_export.py FILE [SEQUENCE:HASH].

SEQUENCE:HASH is a head that was published earlier. The format stands in DEVELOPERS.md, "The trail".
"""

import hashlib
import json
import sys

TEXTS = ["action", "actor", "at", "content_sha256", "detail", "hash", "object_id", "object_kind", "organization"]
ROW = [*TEXTS, "previous", "sequence"]


def canonical(value):
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def of_row(row, last, known):
    if row["hash"] != hashlib.sha256(canonical({name: row[name] for name in row if name != "hash"})).hexdigest():
        yield "the row was changed"
    if last is None and row["sequence"] == 1 and row["previous"] != "0" * 64:
        yield "the chain does not begin here"
    if last and [last["organization"], last["hash"]] != [row["organization"], row["previous"]]:
        yield "the row does not continue the one before it"
    if last and row["sequence"] != last["sequence"] + 1:
        yield "rows are missing or out of order"
    if known.pop(row["sequence"], row["hash"]) != row["hash"]:
        yield "not the row whose hash was published"


def faults(data, known):
    last = head = None
    for number, line in enumerate(data.split(b"\n")[:-1], 1):
        found = json.loads(line)
        if head or canonical(found) != line:
            yield f"line {number} is not as it was written"
        elif sorted(found) == ROW:
            yield from (f"line {number}: {what}" for what in of_row(found, last, known))
            last = found
        elif sorted(found) == ["hash", "organization", "sequence"]:
            head = found
            if last and any(head[name] != last[name] for name in head):
                yield f"line {number}: the chain ends elsewhere"
        elif hashlib.sha256(found["answer"].encode()).hexdigest() != last["content_sha256"] or len(found) > 1:
            yield f"line {number} is not the answer of the row before it"
    if head is None or not data.endswith(b"\n") or known:
        yield "the export was cut short"


def verdict(data, known=()):
    try:
        return list(faults(data, dict(known)))
    except (ValueError, TypeError, KeyError) as problem:
        return [f"not an export of the trail: {problem}"]


if __name__ == "__main__":
    with open(sys.argv[1], "rb") as file:
        wrong = verdict(file.read(), [(int(word.split(":")[0]), word.split(":")[1]) for word in sys.argv[2:]])
    sys.exit("\n".join(wrong) or print("all is as it was written"))
