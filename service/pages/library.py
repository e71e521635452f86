"""The pages of the crop library: search, one page per crop, the tables, two editions compared."""

from collections.abc import Callable
from typing import NamedTuple
from urllib.parse import urlencode

from flask import Blueprint, Response, abort, request

from service.agronomy.tables import VERIFICATION_ORDER, Band, Library
from service.catalog.catalog import Catalog, Table
from service.catalog.comparison import compare_editions
from service.desk.crop_search import CropIndex, Wanted, find_crops, near_misses
from service.pages.crop_page import cited, crop_page
from service.pages.ladders import subjects
from service.pages.rows import changes, effects, sheet
from service.pages.search import by_kind, hit
from service.pages.unchecked import unchecked
from service.render.words import Words

LONGEST_QUERY = 80


class Site(NamedTuple):
    """What the pages are made with: a renderer of templates, the visitor's words, the tables."""

    render: Callable[..., Response]
    words: Callable[[], Words]
    library: Callable[[], Library]
    catalog: Callable[[], Catalog]

    def page(self, template: str, **values: object) -> Response:
        """A page; links to its other languages keep what was asked for, and every page can explain the marks."""
        asked = [(name, value) for name, value in request.args.items() if name != "language"]
        return self.render(template, kept=urlencode(asked), marks=VERIFICATION_ORDER, **values)


def register(pages: Blueprint, site: Site) -> None:
    """Add the pages of the library to the blueprint of all pages."""

    @pages.get("/library")
    def library() -> Response:
        """Find a crop by any of its names, by kind, by region."""
        wanted = Wanted(*(request.args.get(name, "").strip()[:LONGEST_QUERY] for name in ("q", "kind", "region")))
        return _search(site, wanted)

    @pages.get("/library/crops/<crop>")
    def library_crop(crop: str) -> Response:
        """One crop with all its tables; ``?edition=`` shows an older one."""
        return _crop(site, crop)

    @pages.get("/library/tables")
    def library_tables() -> Response:
        """Every shared table."""
        return site.page("tables.html", tables=_by_kind(site.catalog()))

    @pages.get("/library/tables/<table>")
    def library_table(table: str) -> Response:
        """One shared table: its editions, and the rows of one of them."""
        found = site.catalog().tables.get(table)
        return _table(site, found) if found else abort(404)

    @pages.get("/library/unchecked")
    def library_unchecked() -> Response:
        """Rows that nobody has checked against print yet."""
        return _unchecked(site)

    @pages.get("/library/compare")
    def library_compare() -> Response:
        """Two editions of a table or a crop: whose answers change, and row by row what differs."""
        return _compare(site)


def _search(site: Site, wanted: Wanted) -> Response:
    library, language = site.library(), site.words().language
    found, index = by_kind(find_crops(library, wanted), language), library.index(CropIndex)
    near = () if found else near_misses(library, wanted.text)
    return site.page(
        "library.html",
        wanted=wanted,
        found=found,
        count=sum(map(len, found.values())),
        total=len(library.crops),
        near=[hit(library.crops[name], language) for name in near],
        kinds=index.kinds,
        regions=index.regions,
    )


def _crop(site: Site, name: str) -> Response:
    editions = site.catalog().crop_editions.get(name)
    if editions is None:
        response = _search(site, Wanted(name[:LONGEST_QUERY]))
        response.status_code = 404
        return response
    asked = request.args.get("edition")
    if asked is not None and asked not in editions:
        abort(404)
    crop = editions[asked] if asked else site.library().crops[name]
    return site.page("crop.html", crop=crop, page=crop_page(crop, site.library(), site.catalog(), site.words()))


def _by_kind(catalog: Catalog) -> dict[str, list[Table]]:
    found: dict[str, list[Table]] = {}
    for table in sorted(catalog.tables.values(), key=lambda table: (table.rows, table.id)):
        found.setdefault(table.rows, []).append(table)
    return found


def _table(site: Site, table: Table) -> Response:
    in_force = site.library().editions[table.id].edition
    edition = request.args.get("edition", in_force)
    if edition not in table.editions:
        abort(404)
    ref, rows = table.editions[edition]
    shown = sheet(rows, _whole_number(request.args.get("page", "1")))
    bands = [row for row in rows if isinstance(row, Band)]
    return site.page(
        "table.html",
        table=table,
        ref=ref,
        in_force=in_force,
        editions=sorted(table.editions),
        sheet=shown,
        subjects=subjects(bands, None, site.words()) if shown.page == 1 else (),
        sources=cited((row.warrant for row in shown.rows), site.catalog().sources),
        count=len(rows),
    )


def _whole_number(text: str) -> int:
    return int(text[:6]) if text.isascii() and text[:6].isdigit() else 1


def _unchecked(site: Site) -> Response:
    table = request.args.get("table", "")
    if table and table not in site.catalog().tables:
        abort(404)
    found = unchecked(site.catalog(), table, _whole_number(request.args.get("page", "1")), site.words())
    sources = cited((row.warrant for row in found.rows), site.catalog().sources)
    return site.page("unchecked.html", list=found, table=table, sources=sources)


def _compare(site: Site) -> Response:
    catalog, words = site.catalog(), site.words()
    name = request.args.get("table", "")
    editions = catalog.editions_of(name)
    before, after = request.args.get("from", ""), request.args.get("to", "")
    if (name and not editions) or not {before, after} - {""} <= set(editions):
        abort(404)
    found = compare_editions(catalog, name, before, after) if before and after else None
    return site.page(
        "compare.html",
        name=name,
        editions=editions,
        before=before or (editions[-2:-1] or editions[-1:] or ("",))[0],
        after=after or (editions[-1:] or ("",))[0],
        effects=effects(found, words) if found else (),
        changes=changes(found) if found else (),
        compared=found is not None,
        tables=sorted(catalog.tables),
        crops=[hit(crop, words.language) for _, crop in sorted(catalog.crops.items())],
    )
