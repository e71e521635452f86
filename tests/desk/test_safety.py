"""Safety levels are always the newest: a level that was lowered judges every case from that day on."""

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from service.catalog.catalog import load_catalog
from service.desk.callers import OPEN_CALLER
from service.desk.issue import answer_only
from service.desk.office import Office

ROOT = Path(__file__).resolve().parents[2]
LEAD = {
    "sample": {"depth": {"top": 0, "bottom": 6, "unit": "in"}},
    "results": [{"analyte": "Pb", "method": "total_digest", "value": 180, "unit": "mg/kg"}],
    "target": {"crop": "vegetable-garden"},
    "site": {"region": "US-XX"},
}


@pytest.fixture
def stricter(office: Office, tmp_path: Path) -> Office:
    """The office after an invented lowering of the lead level to 150 mg/kg on 1 March 2026."""
    copy = tmp_path / "crops"
    shutil.copytree(ROOT / "crops", copy, ignore=shutil.ignore_patterns("editions.csv"))
    table = copy / "_shared" / "safety-levels"
    rows = (table / "2025-01-01.csv").read_text("utf-8").splitlines()
    changed = [row.replace(",200,", ",150,") if row.startswith("lead_residential,") else row for row in rows]
    assert changed != rows
    (table / "2026-03-01.csv").write_text("\n".join(changed) + "\n", "utf-8")
    return replace(office, catalog=load_catalog([copy]))


@pytest.mark.parametrize(
    "options",
    [{}, {"as_of": "2025-06-01"}, {"editions": {"safety-levels": "2025-01-01"}}],
    ids=["today", "an older day", "a pin"],
)
def test_the_newest_level_judges(office: Office, stricter: Office, options: dict[str, Any]) -> None:
    """180 mg/kg lead is below the first edition's 200 and above the newer 150: only the newer one may judge."""
    body = json.dumps({**LEAD, "options": options}).encode()
    before, after = (json.loads(answer_only(OPEN_CALLER, body, desk)) for desk in (office, stricter))
    assert before["outcome"] != "held"
    assert after["outcome"] == "held"
    assert any(reason["code"] == "total_metal" for reason in after["reasons"])
