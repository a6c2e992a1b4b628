"""Small scenes with plumbing, written in a few lines of YAML."""

import functools
import gc
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from scipy.optimize import brentq

from layout3d.errors import NotPossible
from layout3d.flow.bar import RECOVERY, Bar, BarFlow
from layout3d.flow.network import DrilledPipe, Network, Reservoir
from layout3d.flow.solve import solve
from layout3d.flow.steady import OTHER
from layout3d.flow.water import Water
from layout3d.keep import forget
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene

OURS = Path(__file__).parent.parent / ".pytest_cache"
gc.disable()  # nothing that is collected is rubbish
# shapes are kept for the other workers and the next run, and apart from the user's own
os.environ.setdefault("LAYOUT3D_CACHE", str(OURS / "shapes"))
# and so is what all these modules compile to, also for the commands that run in processes of their own
sys.dont_write_bytecode = False
sys.pycache_prefix = str(OURS / "bytecode")
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix
# an example's time says nothing of its truth; for more examples: pytest --hypothesis-profile thorough
settings.register_profile("busy machine", deadline=None, max_examples=25)
settings.register_profile("thorough", deadline=None, max_examples=1000)
settings.load_profile("busy machine")


@pytest.fixture(autouse=True, scope="session")
def computed() -> Iterator[None]:
    """Let tests see what is computed, not what was told of a scene before; ``test_cli_answer`` does.

    And the room to swim measured on a coarse grid in each check; ``tests/swim`` holds the fine one.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("layout3d.commands.answer.KEEP", False)
        patch.setattr("layout3d.swim.room.CELLS", 20_000)
        yield


@pytest.fixture
def memory_alone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Keep results in memory alone, from none on, and leave none there."""
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    forget()
    yield
    forget()


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """Look less often for rubbish: thousands of tests lie in memory, and none of them is any."""
    gc.enable()
    gc.freeze()
    gc.set_threshold(5_000, 20, 50)


def pytest_sessionfinish() -> None:
    """Let all be cleared away in its order."""
    gc.unfreeze()


@pytest.hookimpl(trylast=True)
def pytest_sessionstart() -> None:
    """Keep each process to a core where there is one for each, as ``scripts/test`` tells linear algebra to.

    Threads of the booleans would only be in the way of the other processes, and cost a tenth more.
    """
    if "PYTEST_XDIST_WORKER" not in os.environ or not hasattr(os, "sched_setaffinity"):
        return
    number, cores = int(os.environ["PYTEST_XDIST_WORKER"].removeprefix("gw")), sorted(os.sched_getaffinity(0))
    if int(os.environ["PYTEST_XDIST_WORKER_COUNT"]) == len(cores):
        os.sched_setaffinity(0, {cores[number]})


TANK = "kind: tank, inside: [1200, 500, 600], glass: 12"


@functools.lru_cache(maxsize=256)
def built(text: str) -> Model:
    """Build a scene once for all tests that write the same; what was worked out of it stays with it."""
    return build_model(read_scene(Path("made.yaml"), text=text))


def build(
    parts: str, *, waterline: object = 200, units: str = "mm", tank: str = TANK, more: str = ""
) -> Model:
    """Build a scene of a tank and parts, given as lines of YAML without indentation."""
    lines = "".join(f"  {line}\n" for line in parts.strip("\n").splitlines())
    text = f"format: 1\nunits: {units}\nwaterline: {waterline}\nparts:\n  tank: {{{tank}}}\n{lines}{more}"
    return built(text)


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


@pytest.fixture(scope="session")
def scene() -> Callable[..., Model]:
    """Build a model from parts."""
    return build


@pytest.fixture(scope="session")
def bar_scene() -> Callable[..., Model]:
    """Build a model with a drip bar and a nozzle."""
    return with_bar


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


@pytest.fixture(scope="session")
def sump_scene() -> Callable[..., Model]:
    """Build a tank over a sump, with an overflow and a return."""
    return with_sump


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
        found = solve(network, setting=OTHER[setting], recovery=recovery, water=water, holds=holds)
        return found.bars["bar"]

    if kind == "total":
        return at(head)
    top = head + 1e-9
    for _ in range(30):
        if at(top).static_head >= head:
            return at(brentq(lambda total: at(total).static_head - head, head, top, xtol=1e-9))
        top = head + 3.0 * (top - head) + 1e-3
    raise NotPossible("the holes take more than the bore brings")


@pytest.fixture(scope="session")
def solve_bar() -> Callable[..., BarFlow]:
    """Solve one drilled pipe by itself."""
    return bar_alone
