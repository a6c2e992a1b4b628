"""Circuits and outages made by hand for the rules that judge them, in no scene and without computing.

Each figure is another one, so that none can stand in for another unnoticed. SI; levels are z, [m].
"""

from functools import partial
from types import SimpleNamespace

from layout3d.band import Band
from layout3d.outage.circuit import Circuit
from layout3d.outage.ledger import Event, Ledger
from layout3d.water.level_table import LevelTable

__all__ = [
    "band",
    "judged",
    "made_circuit",
    "made_drain",
    "made_event",
    "made_model",
    "made_outages",
    "made_room",
]

NONE = (0.0, 0.0, 0.0)


def band(low, likely, high, note=""):
    return Band(low=low, likely=likely, high=high, note=note)


def made_room(low, high, **more):
    """Return a box of a vessel."""
    middle = (0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1]))
    return SimpleNamespace(low=low, high=high, middle=lambda z: (*middle, z), **more)


def made_model(*, tank=(0.8, 0.4, 0.5), waterline=0.3, built=None, pumps=(), **limits):
    """Return a model that has limits and a box of a tank, and refuses every other limit."""
    catalog = SimpleNamespace(limit=lambda name: SimpleNamespace(value=limits[name]))
    low, high = (0.0, 0.0, 0.0), tuple(tank)
    return SimpleNamespace(
        scene=SimpleNamespace(catalog=catalog),
        tank=made_room(low, high, height=high[2]),
        tank_name="tank",
        waterline=waterline,
        built=built or {},
        pumps=pumps,
    )


def judged(monkeypatch, module, rule, model, **stand_ins):
    """Run a rule of ``module`` with functions in place of those that it asks, by their names there."""
    for name, function in stand_ins.items():
        monkeypatch.setattr(module, name, function)
    return list(rule.find(model))


def made_drain(
    name="overflow", *, at=(0.7, 0.35, 0.28), parts=("standpipe", "down"), crest=0.29, kind="open", **more
):
    intake = SimpleNamespace(words="rim of 36 mm", formula="a weir")
    mouth = SimpleNamespace(at=at, kind=kind)
    return SimpleNamespace(name=name, mouth=mouth, parts=parts, crest=crest, intake=intake, **more)


def made_circuit(**more):
    """Return a circuit of one drain, and a sump whose return chamber is 0.2 m by 0.3 m at x 0.5, y 0.1."""
    chamber = made_room((0.5, 0.1, -0.5), (0.7, 0.4, -0.2))
    first = made_room((0.1, 0.1, -0.5), (0.4, 0.4, -0.2))
    data = SimpleNamespace(return_chamber=chamber, compartments=(first, chamber))
    made = {
        "sump": SimpleNamespace(
            chamber_name="sump.return",
            name="sump",
            rim=-0.2,
            floor=-0.5,
            crests=(-0.22,),
            data=data,
            whole=LevelTable(levels=(-0.5, -0.2), volumes=(0.0, 0.054), name="sump"),
        ),
        "sump_running": lambda: 0.030,
        "tank": LevelTable(levels=(0.0, 0.5), volumes=(0.0, 0.16), name="tank"),
        "compartments": (
            SimpleNamespace(
                name="inlet", level=band(-0.216, -0.215, -0.214), head=band(0.004, 0.005, 0.006, "a weir")
            ),
            SimpleNamespace(name="return"),
        ),
        "chamber_level": -0.35,
        "stock": 0.020,
        "drains": (made_drain(),),
        "pumps": (),
        "tank_name": "tank",
        "spill": 0.5,
        "spill_words": "the rim of tank",
        "brace": None,
        "overflows": False,
        "flow": band(1e-4, 1.5e-4, 2e-4),
        "level": band(0.295, 0.300, 0.307),
        "level_stopped": None,
        "slots_stopped": 0.33,
        "waterline": 0.3,
    } | more
    found = SimpleNamespace(**made)
    found.drawing_air = partial(Circuit.drawing_air, found)
    return found


def made_event(subject="overflow", *, moves=NONE, floor=NONE, tank=NONE, chamber=NONE, **more):
    """Return an event whose water on the floor is what the tank has lost."""
    return Event(
        kind="power cut",
        subject=subject,
        before=Ledger(tank=(1.0, 1.0, 1.0), sump=NONE, pipes=NONE),
        after=Ledger(tank=tuple(1.0 - spilled for spilled in floor), sump=NONE, pipes=NONE, floor=floor),
        tank_levels=tank,
        chamber_levels=chamber,
        moves=moves,
        tank_rim=0.5,
        sump_rim=-0.2,
        **more,
    )


def made_outages(circuit=None, **more):
    line = SimpleNamespace(remedies=(), room=0.01, lowest_event="evaporation", highest_event="power cut")
    mark = SimpleNamespace(
        running=(0.10, 0.18),
        stopped=(0.15, 0.23),
        mark=0.15,
        miss=0.0,
        holds=True,
        line=line,
        devices="",
    )
    made = {
        "circuit": circuit or made_circuit(),
        "power_cut": made_event(),
        "failed": (),
        "blocked": (made_event(),),
        "clogged": (),
        "beside": (),
        "mark": mark,
        "careful_mark": mark,
        "run_down": SimpleNamespace(loss=0.0, why_not=""),
    } | more
    return SimpleNamespace(**made)
