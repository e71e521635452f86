"""The materials over HTTP: every row with its grade, and its cautions in every language."""

from flask.testing import FlaskClient

from service.agronomy.tables import Library, MaterialRow


def test_every_material_with_its_grade_and_cautions(client: FlaskClient, library: Library) -> None:
    answer = client.get("/v1/materials")
    assert answer.status_code == 200
    items = {item["material"]: item for item in answer.json["items"]}
    assert len(items) == len(library.rows("materials", MaterialRow)) >= 60
    assert items["urea"]["grade"] == "46-0-0"
    assert items["ammonium_sulfate"]["grade"] == "21-0-0-24S"
    assert items["gypsum"]["grade"] is None
    for item in items.values():
        assert [label["word"] for label in item["caution_labels"]] == item["cautions"]
        for label in item["caution_labels"]:
            assert label["labels"]["en"] != label["labels"]["es"]
            assert "[" not in label["labels"]["en"]


def test_figures_say_how_far_they_were_checked(client: FlaskClient) -> None:
    items = {item["material"]: item for item in client.get("/v1/materials").json["items"]}
    nitrate = items["sodium_nitrate"]
    assert (nitrate["national_list"], nitrate["national_list_verification"]) == ("restricted", "read")
    assert nitrate["national_list_place"].startswith("7 CFR 205.602(h)")
    assert nitrate["salt_index"] == 100  # the scale's own unit: Rader, White and Whittaker 1943
    assert nitrate["salt_index_verification"] == "memory"
    assert items["zinc_edta"]["national_list"] == "unknown"
