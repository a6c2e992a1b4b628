"""Small scenes with plumbing, written in a few lines of YAML, and one drilled pipe by itself."""

from plain_scenes import build_text
from scipy.optimize import brentq

from layout3d.band import OPPOSITE
from layout3d.errors import NotPossible
from layout3d.flow.bar import RECOVERY, Bar, BarFlow
from layout3d.flow.network import DrilledPipe, Network, Reservoir
from layout3d.flow.solve import solve
from layout3d.flow.water import Water
from layout3d.model.model import Model

__all__ = ["bar_alone", "build", "with_bar", "with_sump"]

TANK = "kind: tank, inside: [1200, 500, 600], glass: 12"


def build(
    parts: str, *, waterline: object = 200, units: str = "mm", tank: str = TANK, more: str = ""
) -> Model:
    """Build a scene of a tank and parts, given as lines of YAML without indentation."""
    lines = "".join(f"  {line}\n" for line in parts.strip("\n").splitlines())
    text = f"format: 1\nunits: {units}\nwaterline: {waterline}\nparts:\n  tank: {{{tank}}}\n{lines}{more}"
    return build_text(text)


def with_bar(
    *,
    speed: object = "70 %",
    hole: object = 2.5,
    opening: object = "60 %",
    riser: float = 300,
    level: float = 200,
    pump: str = "small 1000",
    angles: str = "[20 deg]",
    turn: str = "down: 150",
    more: str = "",
) -> Model:
    """Build a pump in the tank with a nozzle low on one branch and a drip bar on the other."""
    parts = f"""
pump:
  {{kind: pump, model: {pump}, speed: {speed}, outlet: d25 pn 10, at: {{left: 150, back: 120, bottom: 0}}}}
supply:
  kind: run
  pipe: d25 pn 10
  start: pump.outlet
  route:
    - up: {riser}
    - {{tee: right, name: split}}
    - up: 80
    - front: 100
    - {{ball_valve: {opening}, name: valve}}
    - front: 100
    - nozzle
bar:
  kind: run
  pipe: d25 pn 10
  start: supply.split
  route:
    - right: 100
    - {turn}
    - right: 600
      drip: {{diameter: {hole}, pitch: 25, margin: 40, angles: {angles}}}
    - cap
"""
    return build(parts, waterline=level, more=more)


CIRCUIT = """
sump:
  kind: sump
  at: [100 mm, 50 mm, -700 mm]
  inside: [{length} mm, 400 mm, {height} mm]
  glass: 6 mm
  flow: right_to_left
  compartments:
    - {{name: inlet, length: 300 mm, baffle: {{height: {baffle} mm, thickness: 6 mm{gap}}}{inlet}}}
    - {{name: chamber, level: {level} mm}}
pump: {{kind: pump, model: {pump}, speed: {speed}, outlet: d25 pn 10,
  at: {{in: sump.chamber, left: 120 mm, front: 150 mm, bottom: 0 mm}}}}
return:
  kind: run
  pipe: d25 pn 10
  start: pump.outlet
  route:
    - up: 250 mm
    {valve}
    - {{until: back, reach: {{from: supply.outside, offset: [0 mm, 70 mm, 0 mm]}}}}
    - {{until: right, reach: supply.outside}}
    {after}
    - {{until: up, reach: supply.outside}}
    - join: supply.outside
feed: {{kind: run, pipe: d25 pn 10, start: supply.inside, route: [{feed}]}}
intake: {{kind: run, pipe: d40 pn 10, start: overflow.inside, route: [{intake}]}}
down: {{kind: run, pipe: d40 pn 10, start: overflow.outside, route: [{down}]}}
{more}
"""
OPEN_TANK = "kind: tank, inside: [1000 mm, 500 mm, {tall} mm], glass: 10 mm, silicone: 0"


def with_sump(
    *,
    waterline: object = "260 mm",
    length: float = 800,
    height: float = 400,
    baffle: float = 250,
    gap: float = 0,
    inlet: str = "",
    level: float = 180,
    pump: str = "medium 2000",
    speed: str = "70 %",
    valve: str = "",
    after: str = "",
    supply: float = 300,
    feed: str = "{front: 80 mm}, nozzle",
    intake: str = "{front: 100 mm}, {up: 100 mm}, open",
    overflow: float = 150,
    down: str = "{back: 70 mm}, {down: 400 mm}, {front: 300 mm}, {down: 200 mm}, open",
    tall: float = 500,
    holes: str = "",
    more: str = "",
    top: str = "",
    units: str = "mm",
) -> Model:
    """Build a tank of half a square metre over a sump: an overflow down to it, and a pump that returns."""
    drilled = (
        f"overflow: {{panel: back, left: 800 mm, bottom: {overflow} mm, bulkhead: d40}}, "
        f"supply: {{panel: back, left: 400 mm, bottom: {supply} mm, bulkhead: d25}}{holes}"
    )
    parts = CIRCUIT.format(
        length=length,
        height=height,
        baffle=baffle,
        gap=f", gap: {gap} mm" if gap else "",
        inlet=inlet,
        level=level,
        pump=pump,
        speed=speed,
        valve=f"- {valve}" if valve else "",
        after=f"- {after}" if after else "",
        feed=feed,
        intake=intake,
        down=down,
        more=more,
    )
    tank = f"{OPEN_TANK.format(tall=tall)}, holes: {{{drilled}}}"
    return build(parts, waterline=waterline, tank=tank, more=top, units=units)


def bar_alone(
    bar: Bar,
    head: float,
    *,
    kind: str = "total",
    far_head: float | None = None,
    setting: str = "likely",
    recovery: float = RECOVERY.likely,
    holds: bool = True,
    water: Water | None = None,
) -> BarFlow:
    """Solve one drilled pipe between still tanks; with a static head, for the tank that gives it."""

    def at(total: float) -> BarFlow:
        nodes = [Reservoir(name="tank", level=total)]
        if far_head is not None:
            nodes.append(Reservoir(name="far", level=far_head + total - head))
        pipe = DrilledPipe(name="bar", start="tank", bar=bar, end=None if far_head is None else "far")
        network = Network(nodes=tuple(nodes), links=(pipe,))
        found = solve(network, setting=OPPOSITE[setting], recovery=recovery, water=water, holds=holds)
        return found.bars["bar"]

    if kind == "total":
        return at(head)
    top = head + 1e-9
    for _ in range(30):
        if at(top).static_head >= head:
            return at(brentq(lambda total: at(total).static_head - head, head, top, xtol=1e-9))
        top = head + 3.0 * (top - head) + 1e-3
    raise NotPossible("the holes take more than the bore brings")
