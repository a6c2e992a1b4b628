"""A circuit made by hand, for the events that start from it: boxes of water, in no scene.

The tank is 0.5 m² in plan and spills at 500 mm; its floor is at 0 and its drain's crest at 290 mm. The sump's
floor is at -700 mm and its rim at -300: an inlet of 0.1 m² behind a baffle that ends at -500 mm, and a return
chamber of 0.2 m² that is filled to -550 mm. SI; levels are z, [m].
"""

from types import SimpleNamespace

from layout3d.band import Band
from layout3d.outage.circuit import Circuit
from layout3d.outage.returns import ReturnPump
from layout3d.outage.running import Running
from layout3d.water.level_table import LevelTable

__all__ = ["drain", "pump", "return_way", "running", "siphon"]

TANK = LevelTable(levels=(0.0, 0.6), volumes=(0.0, 0.3), name="tank")
CHAMBER = LevelTable(levels=(-0.7, -0.3), volumes=(0.0, 0.08), name="chamber")
WHOLE = LevelTable(levels=(-0.7, -0.5, -0.3), volumes=(0.02, 0.06, 0.12), name="sump")


def band(low, likely, high):
    return Band(low=low, likely=likely, high=high)


def drain(name="overflow", *, crest=0.29, siphon_level=0.285, vessel="sump.inlet", box="", edges=(), **more):
    return SimpleNamespace(
        name=name,
        crest=crest,
        siphon_level=siphon_level,
        outlet=SimpleNamespace(vessel=vessel),
        box=box,
        way=SimpleNamespace(edges=edges),
        **more,
    )


def siphon(name="nozzle", *, broken_at=0.2, blocked_at=0.2, check_valve=""):
    mouth = SimpleNamespace(name=name)
    return SimpleNamespace(mouth=mouth, broken_at=broken_at, blocked_at=blocked_at, check_valve=check_valve)


def pump(name="pump", *, inlet=-0.65, sump="sump"):
    return ReturnPump(name=name, sump=sump, compartment="return", inlet=(0.0, 0.0, inlet), flow=None)


def return_way(*pumps, siphons=(), check_valves=(), contents=0.001, held=0.0004, holes=(), pipework=None):
    pumps = pumps or (pump(),)
    return SimpleNamespace(
        pumps=pumps,
        name=", ".join(one.name for one in pumps),
        siphons=siphons,
        check_valves=check_valves,
        contents=contents,
        contents_held=held,
        holes=holes,
        pipework=pipework or SimpleNamespace(edges=(), mouths=()),
    )


def held(levels):
    inlet, chamber = levels
    return 0.1 * (inlet + 0.7) + 0.2 * (chamber + 0.7)


def running(*drains, returns=None, model=None, **more):
    """Return the circuit as it runs, with a tank at 300, 302 and 306 mm."""
    sump = SimpleNamespace(
        name="sump", whole=WHOLE, chamber=CHAMBER, rim=-0.3, floor=-0.7, chamber_top=-0.5, held=held
    )
    inlet = SimpleNamespace(name="inlet", level=band(-0.498, -0.496, -0.492))
    chamber = SimpleNamespace(name="return", level=Band.exact(-0.55))
    made = {
        "tank_name": "tank",
        "tank": TANK,
        "rim": 0.6,
        "brace": None,
        "spill": 0.5,
        "spill_words": "the rim of tank",
        "waterline": 0.3,
        "boxes": (),
        "drains": drains or (drain(),),
        "returns": (return_way(),) if returns is None else returns,
        "sump": sump,
        "compartments": (inlet, chamber),
        "socks": (),
        "flow": band(1e-4, 2e-4, 3e-4),
        "level": band(0.300, 0.302, 0.306),
        "level_stopped": None,
        "slots_stopped": 0.33,
        "overflows": False,
        "drain_contents": band(0.0001, 0.0002, 0.0004),
        "notes": (),
    } | more
    return Running(model=model or SimpleNamespace(overflow_boxes=()), circuit=Circuit(**made))
