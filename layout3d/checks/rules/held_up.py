"""Parts that hang in thin air: nothing under them, nothing they are fixed to."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit, stops
from layout3d.model.model import Model
from layout3d.parts.base import Body, Built, Part, vector
from layout3d.solid.distance import Gap, gap, meet, near_pairs

GROUPS = ("wood", "rock", "equipment", "plant", "sump", "background")
"""Groups that need something to stand on; runs have their own rule (support-spacing)."""
BASE = ("glass", "stand", "substrate")
"""Groups that carry others and are not asked what carries them."""
WEAK = ("glass", "plumbing", "equipment", "plant", "background")
"""Groups that bear no sump; the tank's bottom does."""
FALLING = "A rock or log that falls can break the glass. This rule asks for contact only, not for balance."


@rule(
    "held-up",
    asks="Each part stands on something, a sump all over, or is fixed to something in reach.",
    caution=FALLING,
    limits=("rest_gap", "fixing_reach", "sump_overhang"),
)
def held_up(model: Model) -> Findings:
    """Find parts that nothing stops from below and no join carries, directly or through others.

    What stands beside a part does not carry it, unless the two are joined.
    """
    most = limit(model, "rest_gap")
    bodies = list(model.bodies)
    carried = _carried(model, bodies, most)
    for built in model.built.values():
        part = built.part
        own = [k for k, body in enumerate(bodies) if body.part == part.name and body.group in GROUPS]
        loose = [k for k in own if k not in carried]
        if loose:
            lowest = min(loose, key=lambda k: float(bodies[k].solid.bounds[0, 2]))
            name = part.name if len(loose) == len(own) else bodies[lowest].name
            yield _loose(model, name, bodies[lowest], most)
        yield from _fixings(model, built)
    for sump in model.sumps:
        if "room" not in sump.part.fixed_to:
            yield from _borne(model, sump.part.name, most)


def _borne(model: Model, name: str, most: float) -> Findings:
    """Find a sump that only its fixing holds, that stands on what isn't made to bear it, or reaches past it.

    Boxes around both are compared.
    """
    own = min(model.bodies_of(name), key=lambda body: float(body.solid.bounds[0, 2]))
    under = [other for other in model.bodies if other.part != name and stops(other, own, most)]
    floor = f"{model.tank_name}.bottom"
    holders = [holder for holder in getattr(model.built[name].part, "fixed_to", ()) if not under]
    if holders or (under and all(other.group in WEAK and other.name != floor for other in under)):
        on = holders or [other.name for other in under]
        yield Finding(
            parts=(name, *on),
            at=vector(own.solid.centroid),
            message=f"{name} {'hangs' if holders else 'stands'} on {' and '.join(on)} alone: that isn't made "
            "to bear it full of water",
            remedy=f"stand {name} on a board or a shelf that bears it all over",
        )
    if not under:
        return  # where nothing is said to hold it either, it is told as held up by nothing
    (low, high), boxes = own.solid.bounds, [other.solid.bounds for other in under]
    past = {
        "to the left": min(float(box[0, 0]) for box in boxes) - float(low[0]),
        "to the right": float(high[0]) - max(float(box[1, 0]) for box in boxes),
        "to the front": min(float(box[0, 1]) for box in boxes) - float(low[1]),
        "to the back": float(high[1]) - max(float(box[1, 1]) for box in boxes),
    }
    way = max(past, key=lambda way: past[way])
    names = ", ".join(other.name for other in under)
    yield from judged(
        model,
        past[way],
        "sump_overhang",
        parts=(name,),
        at=vector(own.solid.centroid),
        most=True,
        says=f"{name} reaches {length(past[way])} past {names} {way}",
        remedy=f"move {name} by {{short}} or more, or stand it on something that bears it all over",
    )


def _loose(model: Model, name: str, body: Body, most: float) -> Finding:
    between, other = _nearest(model, body)
    distance = None if between is None or between.distance <= most else between.distance
    if other is None:
        near = ""
    elif distance is not None:
        near = f": {other.name} is nearest, {length(distance)} away"
    elif stops(other, body, most):
        near = f": it stands on {other.name}, which nothing holds up"
    else:
        near = f": {other.name} only stands beside it"
    return Finding(
        parts=(name,),
        measured=distance,
        limit=most,
        at=vector(body.solid.centroid),
        message=f"nothing holds {name} up{near}",
        remedy=f"stand {body.part} on something (`ground:`), or say what carries it under `fixed_to:`",
    )


def _fixings(model: Model, built: Built[Part, object]) -> Findings:
    """Find parts that are said to be fixed to what is out of reach, or is nothing."""
    reach = limit(model, "fixing_reach")
    name = built.part.name
    remedy = f"move {name} there, or name what it really hangs on under `fixed_to:`"
    for holder in getattr(built.part, "fixed_to", ()):
        if holder == "room":
            continue
        holders = model.bodies_of(holder)
        if any(_gives(other, built.part) for other in holders):
            yield Finding(
                parts=(name, holder),
                at=vector(built.bodies[0].solid.centroid),
                message=f"{name} is to be fixed to {holder}, which gives way: it holds nothing",
                remedy=remedy,
            )
            continue
        pairs = [(a.solid, b.solid) for a in built.bodies for b in holders]
        if any(meet(a, b) for a, b in pairs):
            continue  # sooner told than the distance of things that run into each other
        gaps = [gap(a, b) for a, b in pairs]
        nearest = min(gaps, key=lambda between: between.distance, default=None)
        says = f"{name} is to be fixed to {holder}"
        if nearest is None:
            yield Finding(
                parts=(name,),
                limit=reach,
                at=vector(built.bodies[0].solid.centroid),
                message=f"{says}, but nothing is called so",
                remedy=remedy,
            )
        else:
            yield from judged(
                model,
                nearest.distance,
                "fixing_reach",
                most=True,
                parts=(name, holder),
                at=vector(nearest.at_a),
                says=f"{says}, {length(nearest.distance)} away",
                remedy=remedy,
            )


def _gives(holder: Body, part: Part) -> bool:
    """Tell whether a holder gives way under a part: sand under all but plants, a plant under equipment.

    Rock and wood that hang on a plant are weighed by the rule breaks-under.
    """
    if holder.kind == "substrate":
        return part.group != "plant"
    return holder.group == "plant" and part.group in ("equipment", "sump")


def _carried(model: Model, bodies: list[Body], most: float) -> set[int]:
    """Return the bodies that glass, stand or room carry, directly or through joins and contacts."""
    links = _joined(model, bodies)
    carried: set[int] = set()
    _spread({k for k, body in enumerate(bodies) if body.group in BASE} | links.pop(-1), carried, links)
    beside = _neighbours(bodies, most)
    waiting = {k for k in beside if k not in carried}
    while True:
        stopped = {k for k in waiting if any(stops(bodies[j], bodies[k], most) for j in beside[k] & carried)}
        if not stopped:
            return carried
        _spread(stopped, carried, links)
        waiting -= carried


def _spread(start: set[int], carried: set[int], links: dict[int, set[int]]) -> None:
    """Add to the carried bodies these and all that they carry by joins."""
    todo = list(start)
    carried |= start
    while todo:
        for onward in links[todo.pop()] - carried:
            carried.add(onward)
            todo.append(onward)


def _joined(model: Model, bodies: list[Body]) -> dict[int, set[int]]:
    """Return which bodies each body carries by a join; -1 stands for the room.

    A join carries both ways, but for a tube on a barb: what pushes a tube on does not hang on it.
    """
    links: dict[int, set[int]] = {index: set() for index in range(-1, len(bodies))}
    index_of = {body.name: k for k, body in enumerate(bodies)}
    of_part: dict[str, list[int]] = {}
    for k, body in enumerate(bodies):
        of_part.setdefault(body.part, []).append(k)
    for join in model.joins:
        firsts = [index_of[join.a]] if join.a in index_of else of_part.get(join.a, [])
        seconds = [index_of[join.b]] if join.b in index_of else of_part.get(join.b, [])
        if join.b == "room":
            links[-1].update(firsts)
        for first in firsts:
            for second in seconds:
                for low, high in ((first, second), (second, first)):
                    if join.how != "barb" or bodies[high].group == "plumbing":
                        links[low].add(high)
    return links


def _neighbours(bodies: list[Body], most: float) -> dict[int, set[int]]:
    """Return the bodies near each body that may stand on something; leaves carry nothing."""
    rooted = {
        body.part: any(other.kind == "root" for other in bodies if other.part == body.part)
        for body in bodies
        if body.kind == "foliage"
    }
    near: dict[int, set[int]] = {
        k: set()
        for k, body in enumerate(bodies)
        if body.group in (*GROUPS, "plumbing") and not (body.kind == "foliage" and rooted[body.part])
    }
    for i, j in near_pairs([body.solid for body in bodies], most):
        for upper, lower in ((i, j), (j, i)):
            if upper in near and bodies[lower].kind != "foliage" and bodies[i].part != bodies[j].part:
                near[upper].add(lower)
    return near


def _nearest(model: Model, body: Body) -> tuple[Gap | None, Body | None]:
    """Return the nearest body of another part that reaches lower, and the gap to it; None for none."""
    foot = float(body.solid.bounds[0, 2])
    found = [
        (gap(body.solid, other.solid), other)
        for other in sorted(model.bodies, key=lambda other: other.name)
        if other.part != body.part and other.kind != "foliage" and float(other.solid.bounds[0, 2]) < foot
    ]
    return min(found, key=lambda pair: pair[0].distance, default=(None, None))
