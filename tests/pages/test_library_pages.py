"""The library's pages: every crop and table, light, hardened, in both languages, with its figures and their sources."""

import re
import shutil
from datetime import date
from html import unescape
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.agronomy.tables import ROW_KINDS, VERIFICATION_ORDER, Library
from service.catalog.catalog import Catalog, load_catalog
from service.catalog.worklist import RIDES_ON, worklist
from service.pages import blueprint
from service.pages.bands import Span, axis_of, strip
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words

ROOT = Path(__file__).resolve().parents[2]
MAXIMUM_BYTES = 150_000
LANGUAGES = ("en", "es")
UNSAID = re.compile(r"\[(?:page|word|crop|caution|when|change)\.[^\]]*\]")


def client_of(catalog: Catalog, library: Library) -> FlaskClient:
    """The pages on an application of their own."""
    texts = Catalogue()
    words = {name: Words(name, texts, library.index(labels)[name]) for name in texts.languages}
    app = Flask(__name__, static_folder=None)
    app.register_blueprint(blueprint(words.__getitem__, dict, lambda: library, lambda: catalog, texts.languages))
    return app.test_client()


def shown(client: FlaskClient, address: str, **asked: str) -> str:
    """A page that is there, held against what is asked of all pages."""
    answer = client.get(address, query_string=asked)
    assert answer.status_code == 200, address
    return sound(answer, address)


def sound(answer: TestResponse, address: str) -> str:
    """The text of a page: light, hardened, nothing inline, no words missing, ids once, one main heading."""
    html = answer.get_data(as_text=True)
    assert len(answer.data) <= MAXIMUM_BYTES, f"{address}: {len(answer.data)} bytes"
    assert not UNSAID.findall(html), address
    # CSP Level 3: with script-src and style-src 'self' inline scripts, handlers and style attributes do not run.
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert not re.search(r"<(?:script|style)\b|<[^>]+\s(?:style|on\w+)=", html), address
    ids = re.findall(r'<[^>]+\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids)), f"{address}: an id stands twice"
    assert html.count("<h1") == 1
    return html


def plain(html: str) -> str:
    """The text of a page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_crop_has_a_page(client: FlaskClient, library: Library, language: str) -> None:
    """At least the hundred targets that were asked for, each with its sources and the marks of its rows."""
    assert len(library.crops) >= 100
    for crop in library.crops.values():
        html = shown(client, f"/library/crops/{crop.id}", language=language)
        text = plain(html)
        for name in (*crop.names["en"], *crop.names["es"], crop.scientific_name):
            assert name.casefold() in text.casefold(), crop.id
        rows = [*crop.sufficiency, *crop.amounts, *crop.salt_rivals]
        rows += [row for row in (crop.salt, crop.boron, crop.chloride) if row]
        cited = {source for row in rows for source in row.sources}
        assert cited <= set(re.findall(r'id="c-([^"]+)"', html)), crop.id
        assert {row.verification for row in rows} <= set(re.findall(r'class="mark m-(\w+)"', html))
        for band in crop.sufficiency:
            assert band.rating_in_source in text or band.rating in html


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_link_inside_a_crop_page_has_its_target(client: FlaskClient, library: Library, language: str) -> None:
    for crop in library.crops.values():
        html = shown(client, f"/library/crops/{crop.id}", language=language)
        assert set(re.findall(r'href="#([^"]+)"', html)) <= set(re.findall(r'\sid="([^"]+)"', html)), crop.id


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_table_has_a_page_with_all_its_rows(client: FlaskClient, catalog: Catalog, language: str) -> None:
    listed = shown(client, "/library/tables", language=language)
    for table in catalog.tables.values():
        assert f"/library/tables/{table.id}?" in listed
        _, rows = table.editions[table.newest]
        lines: list[int] = []
        page = 0
        while len(lines) < len(rows):
            page += 1
            html = shown(client, f"/library/tables/{table.id}", language=language, page=str(page))
            found = [int(line) for line in re.findall(r'<th scope="row">(\d+)</th>', html)]
            assert found, table.id
            lines += found
        assert lines == [row.line for row in rows], table.id


def found(client: FlaskClient, **asked: str) -> list[str]:
    """The crops that a search lists."""
    return re.findall(r'href="/library/crops/([^"?]+)', shown(client, "/library", **asked))


def test_search_is_blind_to_case_and_accents(client: FlaskClient) -> None:
    """Spanish names (Real Academia: melón, maíz, césped) as people type them without accents."""
    assert "melon" in found(client, q="melon", language="es")
    assert found(client, q="MELON", language="en") == found(client, q="melón", language="en")
    assert "tomato" in found(client, q="jitomate", language="en")
    assert "corn-grain" in found(client, q="maiz", language="es")
    assert "kentucky-bluegrass-lawn" in found(client, q="poa pratensis")


def test_kind_and_region_narrow_the_list(client: FlaskClient, library: Library) -> None:
    lawns = found(client, kind="lawn")
    assert set(lawns) == {crop.id for crop in library.crops.values() if crop.kind == "lawn"}
    idaho = found(client, region="US-ID")
    assert "market-potato" in idaho
    assert 0 < len(idaho) < len(library.crops)
    assert found(client, region="US-ID", kind="lawn") == []
    assert len(found(client)) == len(library.crops)


def test_near_misses_are_offered_and_an_unknown_crop_is_404(client: FlaskClient) -> None:
    assert "tomato" in found(client, q="tomatoe plant")
    answer = client.get("/library/crops/tomatto")
    assert answer.status_code == 404
    assert "/library/crops/tomato?" in sound(answer, "tomatto")


def test_what_is_typed_is_only_shown(client: FlaskClient) -> None:
    """HTML: text from the address never becomes markup."""
    html = shown(client, "/library", q='"><b id=x>', kind="<i>", region="<u>")
    assert "<b id=x>" not in html
    assert "<i>" not in html.replace('<i lang="la">', "")


@pytest.mark.parametrize("page", ["0", "-1", "99999999999", "x", "²"])
def test_odd_page_numbers_still_show_rows(client: FlaskClient, page: str) -> None:
    assert "<td>" in shown(client, "/library/tables/units", page=page)


@pytest.mark.parametrize(
    "address",
    [
        "/library/tables/none",
        "/library/tables/units?edition=1999-01-01",
        "/library/crops/tomato?edition=1999-01-01",
        "/library/compare?table=none",
        "/library/compare?table=units&from=1999-01-01&to=2025-01-01",
    ],
)
def test_what_is_not_there_is_404(client: FlaskClient, address: str) -> None:
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("language", LANGUAGES)
def test_rows_to_check_lead_to_their_place(client: FlaskClient, catalog: Catalog, language: str) -> None:
    """The list of the command line, the weightiest first; each row is a link to itself in its table."""
    items = worklist(catalog)
    html = shown(client, "/library/unchecked", language=language)
    assert str(len(items)) in plain(html).replace(",", "").replace(".", "")
    found = re.findall(r'href="(/library/tables/[^"]+)#(line-\d+)"', html)
    assert [anchor for _, anchor in found] == [f"line-{item.row.line}" for item in items[: len(found)]]
    for address, anchor in (found[0], found[-1]):
        assert f'id="{anchor}"' in client.get(unescape(address)).get_data(as_text=True)
    of_one = shown(client, "/library/unchecked", language=language, table="ratings-colorado")
    assert set(re.findall(r"/library/tables/([^?]+)[?]page", of_one)) == {"ratings-colorado"}
    assert client.get("/library/unchecked?table=nothing").status_code == 404


def test_every_kind_of_row_has_a_weight() -> None:
    assert set(RIDES_ON) == set(ROW_KINDS)


def test_a_season_s_shares_are_shown(client: FlaskClient, library: Library) -> None:
    """ksu-warmturf: zoysia gets half in early June, half in mid-July; every schedule of every crop is on its page."""
    text = plain(shown(client, "/library/crops/zoysiagrass-lawn", language="en"))
    assert "Early summer: 50 % June 1 to June 15 everybody" in text
    assert "Midsummer: 50 % July 10 to July 25" in text
    spanish = plain(shown(client, "/library/crops/zoysiagrass-lawn", language="es"))
    assert "del 1 de junio al 15 de junio" in spanish
    for crop in library.crops.values():
        if any(row.schedule for row in crop.amounts):
            assert 'id="timing"' in shown(client, f"/library/crops/{crop.id}", language="en"), crop.id


def test_what_was_never_published_is_said(client: FlaskClient, library: Library) -> None:
    for crop in library.crops.values():
        html = shown(client, f"/library/crops/{crop.id}", language="en")
        told = "No salt tolerance was published" in html or "stands differs by species" in html
        assert told is (crop.salt is None), crop.id
        assert ("No pH range in print" in html) is (crop.pH_range is None), crop.id


def test_language_links_keep_what_was_asked(client: FlaskClient) -> None:
    html = shown(client, "/library", q="melon", kind="fruit", language="en")
    assert 'href="/library?q=melon&amp;kind=fruit&amp;language=es"' in html


def test_marks_are_said_in_words_that_differ(client: FlaskClient) -> None:
    for language in LANGUAGES:
        html = shown(client, "/library/crops/tomato", language=language)
        said = {mark: re.findall(rf'class="mark m-{mark}">([^<]+)<', html)[0] for mark in VERIFICATION_ORDER}
        assert len(set(said.values())) == len(VERIFICATION_ORDER)


def test_salt_line_of_tomato_is_the_published_one(client: FlaskClient) -> None:
    """FAO Irrigation and Drainage Paper 29 rev. 1, table 4: tomato 2.5 / 3.5 / 5.0 / 7.6 / 13 dS/m (last rounded)."""
    text = plain(shown(client, "/library/crops/tomato", language="en"))
    assert "90 % is left at 3.5, 75 % at 5, half at 7.6 and nothing at 12.6 dS/m" in text


def test_gaps_are_drawn_as_gaps() -> None:
    """A table that prints low <10 and high 25-50 says nothing of 10-25 or of more than 50."""
    spans = [Span("low", "low", None, 10), Span("high", "high", 25, 50)]
    drawn = strip(spans, axis_of(spans), lambda value: f"{value:g}", "no class")
    assert [part.tone for part in drawn.parts] == ["low", "gap", "high", "gap"]
    assert [tick.text for tick in drawn.ticks] == ["10", "25", "50"]
    ends = [float(part.x[:-1]) + float(part.width[:-1]) for part in drawn.parts]
    starts = [float(part.x[:-1]) for part in drawn.parts[1:]]
    assert ends[:-1] == pytest.approx(starts, abs=0.11)


def test_an_even_axis_keeps_proportions() -> None:
    spans = [Span("low", "low", None, 10), Span("medium", "m", 10, 20), Span("high", "high", 20, None)]
    axis = axis_of(spans)
    assert not axis.stretched
    assert axis.at(20) - axis.at(10) == pytest.approx(axis.at(10) - axis.at(0))
    wide = axis_of([Span("low", "low", None, 1), Span("high", "high", 100, None)])
    assert wide.stretched
    assert wide.at(0) < wide.at(1) < wide.at(100) < wide.at(wide.high)


@pytest.fixture
def two_editions(tmp_path: Path) -> FlaskClient:
    """Colorado's classes with a later edition in which the lowest Olsen class of field crops ends at 5, not 7."""
    copy = Path(shutil.copytree(ROOT / "crops", tmp_path / "crops"))
    table = copy / "_shared" / "ratings-colorado"
    lines = (table / "2025-01-01.csv").read_text("utf-8").splitlines(keepends=True)
    at = next(place for place, line in enumerate(lines) if "field,P,olsen" in line and ",7," in line)
    lines[at] = lines[at].replace(",7,", ",5,")
    (table / "2027-06-01.csv").write_text("".join(lines), "utf-8")
    catalog = load_catalog([copy])
    return client_of(catalog, catalog.library(date(2026, 4, 20)))


def test_comparison_says_whose_answers_change(two_editions: FlaskClient) -> None:
    asked = {"table": "ratings-colorado", "from": "2025-01-01", "to": "2027-06-01"}
    text = plain(shown(two_editions, "/library/compare", language="en", **asked))
    assert "5–7 ppm" in text
    assert "Row Column Before After" in text
    assert "upper 7 5" in text
    spanish = plain(shown(two_editions, "/library/compare", language="es", **asked))
    assert "antes" in spanish
    same = plain(shown(two_editions, "/library/compare", language="en", **{**asked, "to": "2025-01-01"}))
    assert "No answer changes" in same
    table = shown(two_editions, "/library/tables/ratings-colorado", language="en")
    assert "2027-06-01" in table
    assert "/library/compare?table=ratings-colorado" in table


def test_one_edition_has_nothing_to_compare(client: FlaskClient) -> None:
    text = plain(shown(client, "/library/compare", table="units", language="en"))
    assert "nothing to compare" in text
