"""The printable page of a sampling plan."""

from flask import Blueprint, Response, abort, request

from service.contract.sample_schema import USES
from service.desk.sampling_plans import Wish, plan_of
from service.pages.library import Site

DEEPEST_IN, TALLEST = 14, 112
"""The deepest core that the sketch draws to scale, and its height there."""


def register(pages: Blueprint, site: Site) -> None:
    """Add the page to the blueprint of all pages."""

    @pages.get("/sampling-plan")
    def sampling_plan() -> Response:
        """How to sample for one use, on one sheet."""
        use = request.args.get("use", USES[1])
        if use not in USES:
            abort(404)
        words = site.words()
        found = plan_of(site.library(), words, Wish(use, words.language))
        deep = TALLEST * min(found["plan"]["depth"]["to"], DEEPEST_IN) / DEEPEST_IN
        return site.page("sampling_plan.html", plan=found, uses=USES, deep=round(deep, 1))
