"""Whether water can leave the root zone: drainage, hard layer, standing water. Leaching and gypsum depend on it."""

from service.agronomy.findings import Note
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.units import Units, scaled


def drainage_obstacles(case: Case) -> list[Note]:
    """Why salt cannot be washed out of this ground, or why nobody can tell; empty when nothing stands in the way."""
    site = case.submission.site
    obstacles: list[Note] = []
    if site.drainage in ("slow", "ponded"):
        obstacles.append(Note("salt.drainage_poor"))
    elif "ponding" in site.symptoms:
        obstacles.append(Note("salt.water_stands"))
    elif site.drainage != "free":
        obstacles.append(Note("salt.drainage_unknown"))
    if site.hard_layer_depth is not None:
        depth = case.library.index(Units.of).inches(site.hard_layer_depth)
        if scaled(depth) < scaled(reference_of(case.library).factor("hard_layer_blocks_in").value):
            obstacles.append(Note("salt.hard_layer", {"depth": case.units.depth(depth)}))
    return obstacles
