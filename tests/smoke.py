"""Posts one ordinary lawn to a running service and checks the answer: ``python tests/smoke.py ADDRESS``.

Standard library only, so that it runs beside an installed copy without the development tools.
"""

import json
import sys
import urllib.request
from pathlib import Path

CASE = Path(__file__).resolve().parents[1] / "openapi" / "examples" / "interpretations.request.json"


def fetch(address: str, body: bytes | None = None) -> tuple[int, bytes]:
    """Status and body of one request."""
    request = urllib.request.Request(address, data=body, headers={"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=20) as answer:
        return answer.status, answer.read()


def main(base: str) -> None:
    """Raises AssertionError when the answer is not what the case calls for."""
    status, body = fetch(f"{base}/v1/interpretations", CASE.read_bytes())
    answer = json.loads(body)
    assert status == 201, status
    assert answer["outcome"] == "released", answer["outcome"]
    ratings = {finding["analyte"]: finding["rating"] for finding in answer["findings"]}
    assert ratings["P"] in ("high", "very_high"), ratings
    kinds = {item["subject"]: item["kind"] for item in answer["recommendations"]}
    assert kinds["N"] == "nutrient", kinds
    assert kinds["P2O5"] == "none_needed", kinds
    assert kinds.get("gypsum", "none_needed") == "none_needed", kinds
    again, stored = fetch(f"{base}/v1/interpretations/{answer['id']}")
    assert again == 200, again
    assert json.loads(stored)["number"] == answer["number"]
    for page in ("/", "/docs", "/v1/openapi.json"):
        assert fetch(base + page)[0] == 200, page
    print(f"smoke: {answer['number']} {answer['outcome']}, 1 passed, 0 failed")


if __name__ == "__main__":
    main(sys.argv[1])
