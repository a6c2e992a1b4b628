"""What each piece of rock and wood rests on, when it tips, slides or comes up, and what it presses on.

Pieces are rigid, and touch by their exact meshes. A bed bears what lies in it as a plane of sand does, by
friction alone; that it gives way under a heavy foot, that fish dig, that wood dries, soaks and rots, and that
somebody leans on it, is not considered.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from layout3d.hold.balance import BEARS, FIXED, Contact, Pile, tip_angle
from layout3d.hold.lift import bound, buoyancy, dried, dried_density, held, lift, tied
from layout3d.hold.on_bed import nearest_bed, on_bed
from layout3d.keep import Form, code_of, key_of
from layout3d.keep import kept as filed
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.plain import form_of
from layout3d.solid.distance import gap, near_pairs
from layout3d.solid.level import volume_below
from layout3d.solid.shape import Points, hung_together
from layout3d.solid.touch import touching
from layout3d.units import GRAVITY
from layout3d.water.mass import people_to_lift, water_density_of
from layout3d.water.remembered import kept

__all__ = ["FRAIL", "HARDSCAPE", "HOLD_CAUTION", "Hold", "holds", "hung", "loose_equipment"]

HARDSCAPE = ("wood", "rock")
"""Groups that are pieces, with what is tied to them."""
FRAIL = ("plumbing", "equipment", "plant")
"""Groups that are not made to bear rock and wood."""
STAGES = 4  # fillings looked at, up to the waterline
ALIKE = 0.9999  # cosine from which normals are one plane's
SHELF = 0.5  # what is fixed lies on a face that looks up by this: the fixing only steadies it, [-]
BED = "substrate"
LETS_GO = ("barb", "rests")  # joins that hold no equipment up

HOLD_CAUTION = (
    "Rock and wood: lift heavy pieces with two, over a pad and with the tank empty; a stone that slips "
    "breaks the bottom. That forces were found that hold a pile does not say that it will stand: nobody "
    "has shaken it, fish dig under it, and wood that dries or rots goes slack and falls. Whether a thin "
    "branch or slab breaks under what lies on it is not computed. Lay the base on "
    "the glass by a mat, not on sand, glue what stands high, and try it dry with your own hands."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """How a piece holds; forces in [N], angles in [rad], mass in [kg].

    ``part`` is the rock or wood, ``parts`` that and what is tied to it, ``rests_on`` the bodies that bear it,
    ``fixed_to`` what it is fixed to: then no angle and no push is told. ``tip_angle`` is the least angle that
    tips it over an edge of what bears it, or where it leans, that tips or slides it. ``push`` is the least
    sideways force at its centre of mass that tips or slides it or what bears it, in the air and with the tank
    full; None where it floats or none does. ``lift`` is what the water lifts above its weight with the tank
    full, below 0 where it sinks; ``lift_dried`` the same with wood or pumice not yet soaked, None without.
    ``fixing`` is what its fixing bears at most, with what is tied to it and lies on it: weight, where it
    would neither stand nor lie on anything without it, or lift; 0 where it is not fixed to glass, background
    or room. ``fixing_lift`` is that lift, with its wood as dry as it comes.
    ``stands`` tells whether forces that hold it were found in the empty tank, ``falls_at`` the level of a
    filling tank at which there are none, None where there always are. ``loads`` is what it presses on by
    body; ``on_glass`` what of it may come on bare glass, over ``glass_area`` [m²], ``leans`` what it leans
    with on upright glass, pipes, equipment and plants, by body, in the empty tank.
    """

    part: str
    parts: tuple[str, ...]
    rests_on: tuple[str, ...]
    fixed_to: tuple[str, ...] = ()
    mass: float
    lift: float
    lift_dried: float | None
    fixing: float = 0.0
    fixing_lift: float = 0.0
    tip_angle: float | None = None
    push_dry: float | None = None
    push_flooded: float | None = None
    stands: bool = True
    falls_at: float | None = None
    loads: Mapping[str, float]
    on_glass: float = 0.0
    glass_area: float = 0.0
    leans: Mapping[str, float] = field(default_factory=dict)
    at: Vector

    @property
    def push(self) -> float | None:
        """Return the lesser push, [N]."""
        return min((push for push in (self.push_dry, self.push_flooded) if push is not None), default=None)

    @property
    def people(self) -> int:
        """Return how many people it takes to lift."""
        return people_to_lift(self.mass)


_PILE: Form[tuple[Hold, ...]] = form_of("how a pile holds", Hold, size=lambda found: 1000 * len(found))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    names: tuple[str, ...]
    bodies: tuple[Body, ...]
    mass: float
    centre: Points


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bearing:
    """A contact with the body that it is with, by name, kind and group: of the piece ``lower``, or fixed."""

    contact: Contact
    on: str
    kind: str
    group: str


@kept
def holds(model: Model) -> tuple[Hold, ...]:
    """Tell of every piece of rock and wood in the tank how it holds, in the scene's order."""
    loose = [_piece(model, names) for names in tied(model)]
    pieces = [piece for piece in loose if piece is not None]
    bearings = list(_bearings(model, pieces))
    found = [
        told for members, own in _piles(len(pieces), bearings) for told in _pile(model, pieces, members, own)
    ]
    found += _fixed(model, {name for piece in pieces for name in piece.names}, found)
    order = list(model.built)
    return tuple(sorted(found, key=lambda each: order.index(each.part)))


@kept
def loose_equipment(model: Model) -> tuple[Hold, ...]:
    """Tell how equipment holds that nothing fixes and no pipe does, on all else as on what does not move.

    A hose holds nothing. A rod that lies is left out: it rolls, and falls no further.
    """
    fast = {end.split(".")[0] for join in model.joins if join.how not in LETS_GO for end in (join.a, join.b)}
    found: list[Hold] = []
    for name, built in model.built.items():
        body = built.bodies[0] if built.part.group == "equipment" and name not in fast else None
        if body is None or (body.kind == "heater" and np.ptp(body.solid.bounds, axis=0).argmax() < 2):
            continue
        piece = _Piece(names=(name,), bodies=(body,), mass=body.mass, centre=body.solid.centroid)
        found += _pile(model, [piece], [0], list(_bearings(model, [piece])))
    return tuple(found)


@kept
def hung(model: Model) -> tuple[tuple[str, str, float], ...]:
    """Return rock and wood that falls but for frail parts that it is fixed to: name, holder, weight [N]."""
    found = []
    for name, built in model.built.items():
        holders = [
            (holder, body.group in FRAIL)
            for holder in getattr(built.part, "fixed_to", ())
            for body in model.bodies_of(holder)[:1]
        ]
        piece = _piece(model, (name,)) if holders and all(frail for _, frail in holders) else None
        if piece is None:
            continue
        under = [each.contact for each in _bearings(model, [piece]) if each.group not in FRAIL]
        if Pile(np.array([piece.centre]), under).unrest(np.array([_load(model, piece, None)]))[0].any():
            found.append((name, holders[0][0], piece.mass * GRAVITY))
    return tuple(found)


def _fixed(model: Model, loose: set[str], others: Sequence[Hold]) -> Iterator[Hold]:
    """Tell of the pieces that are fixed; what is tied to them and what lies on them hangs on them too."""
    fast = held(model)
    groups = [names for names in bound(model) if loose.isdisjoint(names)]
    for names in groups:
        whole = _piece(model, names)
        if whole is None:
            continue
        contacts = [bearing.contact for bearing in _bearings(model, [whole])]
        left, _ = Pile(np.array([whole.centre]), contacts).unrest(np.array([_load(model, whole, None)]))
        pressed = sum(other.loads.get(body.name, 0.0) for other in others for body in whole.bodies)
        hangs = left.any() and not any((contact.normals[:, 2] > SHELF).any() for contact in contacts)
        weight = whole.mass * GRAVITY + pressed if hangs else 0.0
        up = max(0.0, *(lift(model, list(whole.bodies), dry=dry) for dry in (False, True)))
        for name in names:
            piece = _piece(model, (name,))
            if piece is not None:
                to = fast.get(name) or tuple(getattr(model.built[name].part, "fixed_to", ()))
                bears = {"fixing": max(weight, up), "fixing_lift": up} if name in fast else {}
                yield _told(model, piece, rests_on=(), fixed_to=to, loads={}, **bears)


def _is_piece(body: Body) -> bool:
    return body.group in HARDSCAPE and body.where == "tank"


def _piece(model: Model, names: Sequence[str]) -> _Piece | None:
    bodies = tuple(body for name in names for body in model.built[name].bodies)
    if not any(_is_piece(body) for body in bodies):
        return None
    mass = sum(body.mass for body in bodies)
    centre = sum(body.mass * body.solid.centroid for body in bodies) / mass
    return _Piece(names=tuple(names), bodies=bodies, mass=mass, centre=np.asarray(centre))


def _told(model: Model, piece: _Piece, **facts: object) -> Hold:
    bodies = list(piece.bodies)
    main = next((body.part for body in bodies if _is_piece(body)), piece.names[0])
    return Hold(
        part=main,
        parts=piece.names,
        mass=piece.mass,
        lift=lift(model, bodies),
        lift_dried=lift(model, bodies, dry=True) if dried(model, bodies) else None,
        at=vector(piece.centre),
        **facts,  # type: ignore[arg-type] # what the callers found, by the names of the fields
    )


# ---- what touches what


def _bearings(model: Model, pieces: Sequence[_Piece]) -> Iterator[_Bearing]:
    """Return where pieces touch each other and what is fixed, by pairs of bodies."""
    most, slack = (model.scene.catalog.limit(name).value for name in ("rest_gap", "contact_gap"))
    of = {body.name: number for number, piece in enumerate(pieces) for body in piece.bodies}
    boxes = np.array([body.solid.bounds for piece in pieces for body in piece.bodies]).reshape(-1, 2, 3)
    if not len(boxes):
        return
    around = model.near(
        vector(boxes[:, 0].min(axis=0) - 2 * most), vector(boxes[:, 1].max(axis=0) + 2 * most)
    )
    bodies = [body for body in around if body.kind != BED and (body.name in of or body.group != "plant")]
    bodies = [body for body in bodies if body.kind != "foliage"]
    for i, j in near_pairs([body.solid for body in bodies], most):
        a, b = sorted((bodies[i], bodies[j]), key=lambda body: -of.get(body.name, FIXED))
        upper, lower = of.get(a.name, FIXED), of.get(b.name, FIXED)
        if upper == lower:
            continue
        between = gap(a.solid, b.solid).distance
        if between > most:
            continue
        touch = touching(a.solid, b.solid, apart=between + slack, into=most)
        if len(touch.points):
            yield _Bearing(
                contact=Contact(
                    upper=upper,
                    lower=lower,
                    points=touch.points,
                    normals=touch.normals,
                    friction=_friction(model, a, b),
                ),
                **_named(b),
            )
    sands = [body for body in model.bodies if body.kind == BED]
    if sands:
        ground = key_of("ground", model.built[model.tank_name].part, model.beds)
        for number, piece in enumerate(pieces):
            if all(body.where != "tank" for body in piece.bodies):
                continue
            contact = on_bed(model, number, piece.bodies, ground)
            if contact is not None:
                yield _Bearing(contact=contact, **_named(nearest_bed(sands, piece.bodies)))


def _named(body: Body) -> dict[str, str]:
    return {"on": body.name, "kind": body.kind, "group": body.group}


def _friction(model: Model, a: Body, b: Body) -> float:
    sorts = sorted(_sort(body) for body in (a, b))
    if "mat" in sorts:
        name = "friction_on_mat"
    elif "glass" in sorts:
        name = "friction_on_glass"
    elif set(sorts) <= {"rock", "wood"}:
        name = f"friction_{'_on_'.join(sorts)}"
    else:
        name = "friction_other"
    return model.scene.catalog.limit(name).value


def _sort(body: Body) -> str:
    if body.kind == "mat":
        return "mat"
    return "rock" if body.group == "background" else body.group


def _piles(count: int, bearings: Sequence[_Bearing]) -> list[tuple[list[int], list[_Bearing]]]:
    """Return the pieces in groups that lean on each other, not only on what is fixed, with their bearings."""
    contacts = [bearing.contact for bearing in bearings]
    leans = [(c.upper, c.lower) for c in contacts if c.lower != FIXED]
    ends = np.array([*leans, *((b, a) for a, b in leans)], dtype=np.intp).reshape(-1, 2)
    pile = hung_together(count, *ends.T).tolist()
    piles: dict[int, tuple[list[int], list[_Bearing]]] = {number: ([], []) for number in sorted(set(pile))}
    for piece, number in enumerate(pile):
        piles[number][0].append(piece)
    for bearing in bearings:
        piles[pile[bearing.contact.upper]][1].append(bearing)
    return list(piles.values())


# ---- what they bear


def _pile(
    model: Model, pieces: Sequence[_Piece], members: Sequence[int], bearings: Sequence[_Bearing]
) -> tuple[Hold, ...]:
    """Tell of the pieces of a pile by their bearings; kept by both, and the water."""
    place = {member: k for k, member in enumerate(members)} | {FIXED: FIXED}
    own = [
        replace(
            each,
            contact=replace(each.contact, upper=place[each.contact.upper], lower=place[each.contact.lower]),
        )
        for each in bearings
    ]
    group = [pieces[member] for member in members]
    alone = len(members) == 1 and bool(own) and _on_one_plane(own)
    key = key_of(
        *("how a pile holds", code_of(), tuple(group), tuple(own), water_density_of(model), model.waterline),
        tuple(dried_density(model, body) for piece in group for body in piece.bodies),
    )

    def make() -> tuple[Hold, ...]:
        return (_alone(model, group[0], own),) if alone else tuple(_leaning(model, group, own))

    return filed(key, _PILE, make, worth=0.001)


def _leaning(model: Model, group: Sequence[_Piece], own: Sequence[_Bearing]) -> Iterator[Hold]:
    """Tell of pieces that lean on each other, or on more than a plane."""
    contacts = [each.contact for each in own]
    for body in (body for piece in group for body in piece.bodies if body.where == "tank"):
        volume_below(body.solid, _levels(model))  # all at once, which costs little more than one
    pile = Pile(np.array([piece.centre for piece in group]), contacts)
    dry = np.array([_load(model, piece, None) for piece in group])
    left, presses = pile.unrest(dry)
    falls: dict[int, float] = {}
    full, drowned = dry, left
    for level in _levels(model):
        full = np.array([_load(model, piece, level) for piece in group])
        drowned = pile.left(full, dry) if (full != dry).any() else left
        for number in np.flatnonzero(drowned):
            falls.setdefault(int(number), level)
    for k, piece in enumerate(group):
        stands = not left[k]
        borne = [loads for loads, over in ((dry, left), (full, drowned)) if not over.any()]
        pushes = [_finite(push) for push in pile.pushes(k, borne)]
        push_dry = pushes[0] if not left.any() else 0.0
        push_flooded = pushes[-1] if not drowned.any() else 0.0
        bearing = [c.points[c.normals[:, 2] > BEARS] for c in contacts if c.upper == k]
        bearing += [c.points[c.normals[:, 2] < -BEARS] for c in contacts if c.lower == k]
        angle = tip_angle(np.concatenate([*bearing, np.zeros((0, 3))]), piece.centre)
        if stands and not angle and push_dry is not None:  # it leans
            angle = math.atan(push_dry / (piece.mass * GRAVITY))
        loads: dict[str, float] = {}
        for each, contact, press in zip(own, contacts, presses, strict=True):
            below = contact.upper == k and contact.normals[:, 2].mean() > 0
            if below or (contact.lower == k and contact.normals[:, 2].mean() < 0):
                name = each.on if below else group[contact.upper].bodies[0].name
                loads[name] = loads.get(name, 0.0) + float(press.sum())
        on_fixed = [(each, p) for each, c, p in zip(own, contacts, presses, strict=True) if c.upper == k]
        leans = [(each.on, float(p.sum())) for each, p in on_fixed if _yields(each) and not _bears(each)]
        yield _told(
            model,
            piece,
            rests_on=tuple(loads),
            tip_angle=angle if stands else 0.0,
            push_dry=push_dry,
            push_flooded=push_flooded,
            stands=stands,
            falls_at=falls.get(k),
            loads=loads,
            leans={on: force for on, force in leans if force > 0.0},
            **_on_glass(
                [each for each, _ in on_fixed],
                sum(float(p.sum()) for each, p in on_fixed if each.contact.lower == FIXED),
            ),
        )


def _alone(model: Model, piece: _Piece, own: Sequence[_Bearing]) -> Hold:
    """Tell of a piece that lies on one plane: what a linear programme would find, in closed form."""
    normal = own[0].contact.normals[0]
    points = np.concatenate([each.contact.points for each in own])
    grip = math.atan(min(each.contact.friction for each in own)) - math.acos(min(float(normal[2]), 1.0))
    weight = piece.mass * GRAVITY

    def push(load: Points) -> float | None:
        net = -float(load[2])
        if net <= 0.0:
            return None
        pull = piece.centre[:2] + np.array([load[4], -load[3]]) / net
        tips = tip_angle(points, piece.centre, pull)
        return net * math.tan(max(min(tips, grip), 0.0))

    dry = push(_load(model, piece, None))
    stages = [(level, push(_load(model, piece, level))) for level in _levels(model)]
    loads = {each.on: weight for each in own if each.kind != BED} or {own[0].on: weight}
    return _told(
        model,
        piece,
        rests_on=tuple(dict.fromkeys(each.on for each in own)),
        tip_angle=tip_angle(points, piece.centre),
        push_dry=dry,
        push_flooded=stages[-1][1],
        stands=bool(dry),
        falls_at=next((level for level, found in stages if not found), None),
        loads=loads,
        **_on_glass(own, weight),
    )


def _on_one_plane(own: Sequence[_Bearing]) -> bool:
    normals = np.concatenate([each.contact.normals for each in own])
    return bool((normals @ normals[0] >= ALIKE).all() and normals[0, 2] > math.sqrt(0.5))


def _on_glass(own: Sequence[_Bearing], load: float) -> dict[str, float]:
    """Return what may come on bare glass: all that what is fixed bears, for sand under it may wash out."""
    on = [each for each in own if _glass(each) and _bears(each)]
    if not on:
        return {}
    from shapely import MultiPoint

    points = np.concatenate([each.contact.points for each in on])
    return {"on_glass": load, "glass_area": float(MultiPoint(points[:, :2]).convex_hull.area)}


def _glass(bearing: _Bearing) -> bool:
    return bearing.group == "glass" or bearing.kind in ("panel", "baffle")


def _yields(bearing: _Bearing) -> bool:
    return _glass(bearing) or bearing.group in FRAIL


def _bears(bearing: _Bearing) -> bool:
    """Tell whether a contact bears from below."""
    return bool(bearing.contact.normals[:, 2].max() > BEARS)


def _levels(model: Model) -> list[float]:
    return [model.waterline * stage / STAGES for stage in range(1, STAGES + 1)]


def _load(model: Model, piece: _Piece, level: float | None) -> Points:
    """Return weight less buoyancy below a level (None: in the air) and its moment about the centre, (6,)."""
    load = np.zeros(6)
    load[2] = -piece.mass * GRAVITY
    if level is not None:
        water = water_density_of(model)
        for body in piece.bodies:
            pushed, middle = buoyancy(body, level, water)
            up = np.array([0.0, 0.0, pushed * GRAVITY])
            load[:3] += up
            load[3:] += np.cross(middle - piece.centre, up)
    return load


def _finite(push: float) -> float | None:
    return push if math.isfinite(push) else None
