"""What a solver is asked and what it answers: plain figures, all per basis (a square metre, or a tree)."""

from collections.abc import Callable
from typing import NamedTuple


class Offer(NamedTuple):
    """One material that may be chosen.

    Attributes:
        material: its id, unique among the offers.
        analysis: mass fraction (0-1) of each nutrient it brings; N, P2O5, K2O, S, Ca, Mg, Zn, Fe, Mn, Cu, B.
        slow_N: mass fraction of N that is released slowly; part of the N in ``analysis``.
        salt_index: sodium nitrate = 100; None where nobody published one.
        price_per_kg: in the client's money; None where the client gave none.
        bag_kg: what one bag holds; None where it is sold loose or the bag is not known.
        at_hand: g per basis that the client has already; it costs nothing and is used first.
        most: g per basis above which the material itself may not be used; None without such a cap.
    """

    material: str
    analysis: tuple[tuple[str, float], ...]
    slow_N: float = 0.0
    salt_index: float | None = None
    price_per_kg: float | None = None
    bag_kg: float | None = None
    at_hand: float = 0.0
    most: float | None = None


class Need(NamedTuple):
    """A nutrient's need and its cap, g per basis. A need of zero with a cap of zero: nothing that brings it."""

    nutrient: str
    amount: float
    cap: float | None = None


class Problem(NamedTuple):
    """Needs, offers and rules. Hashable, so that a plan can be kept by what was asked.

    Attributes:
        objective: ``cost``, ``salt``, ``few_products`` or ``excess``.
        most_products: how many different materials at most; None for any number.
        size: how many bases there are (m2 or trees); 1 where the area is not known.
        whole_bags: what is not at hand is bought in whole bags for the whole size; only what is needed is spread.
        slow_share: least share (0-1) of all N that must be released slowly.
        apart: pairs of materials that may not both be chosen.
    """

    offers: tuple[Offer, ...]
    needs: tuple[Need, ...]
    objective: str = "few_products"
    most_products: int | None = None
    size: float = 1.0
    whole_bags: bool = False
    slow_share: float = 0.0
    apart: tuple[tuple[str, str], ...] = ()


class Chosen(NamedTuple):
    """One material of a plan: g per basis that is spread, and the whole bags that are bought, where asked for.

    The bags, with what is at hand, hold the amount or more: ``bags * bag_kg * 1000 >= (amount - at hand) * size``.
    """

    material: str
    amount: float
    bags: int | None = None


class Plan(NamedTuple):
    """What a solver found.

    Attributes:
        status: ``met``, or ``short`` where no choice meets every need within the rules: then the nearest plan.
        supplied: g per basis of every nutrient that the chosen materials bring.
        short: need less what is supplied, where that is positive.
        binding: codes of what stands in the way: ``cap.<nutrient>``, ``no_source.<nutrient>``, ``most.<material>``,
            ``slow_share``, ``most_products``, ``apart``, ``no_material``, ``search`` where the search was ended.
        cost: in the client's money, of whole bags where asked for, None without prices; salt: sum of amount (g) times
            salt index / 100.
        proven: whether no better plan can be; if not, the search was ended at its number of steps.
    """

    status: str
    chosen: tuple[Chosen, ...]
    supplied: tuple[tuple[str, float], ...]
    short: tuple[tuple[str, float], ...] = ()
    binding: tuple[str, ...] = ()
    cost: float | None = None
    salt: float | None = None
    proven: bool = True


Solver = Callable[[Problem], Plan]
