"""How long what was joined has to wait: cement by pipe and temperature, silicone by depth, foam by thickness.

Tables are those of the catalogue; the maker's own sheet goes before them.
"""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.catalog import Pipe
from layout3d.catalog.table import table
from layout3d.scene.scene import Conditions
from layout3d.shop.consumables import cement_row_of
from layout3d.units import show

__all__ = [
    "Wait",
    "cement_set",
    "cement_wait",
    "foam_wait",
    "leak_wait",
    "rinse_wait",
    "silicone_move",
    "silicone_wait",
    "wet_wait",
]

HOUR = 3600.0
DEEP = 0.012  # joints of silicone deeper than this cure for twice as long, [m]; common practice, no source
_ZERO = 273.15
_BANDS = ((16.0, 38.0), (4.0, 16.0), (-18.0, 4.0))
"""Of the table of cement, [°C]: outside of them nothing is known."""
_DAMP = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A time to wait, [s], what for, and where it comes from; ``time`` is None where none is known."""

    time: float | None
    why: str
    source: str


def cement_wait(pipe: Pipe, conditions: Conditions) -> Wait:
    """Return how long a cemented joint cures before it is put under pressure."""
    return _cement(pipe, conditions, "cure", "cement of")


def cement_set(pipe: Pipe, conditions: Conditions) -> Wait:
    """Return how long a cemented joint sets before it may be moved with care."""
    return _cement(pipe, conditions, "set", "set of")


def _cement(pipe: Pipe, conditions: Conditions, column: str, what: str) -> Wait:
    shipped, row = table("solvent_cement"), cement_row_of(pipe)
    celsius = conditions.air_temperature - _ZERO
    band = next((k for k, (low, high) in enumerate(_BANDS) if low <= celsius <= high), None)
    why = f"{what} {pipe.name} at {show(conditions.air_temperature, 'temperature')}"
    if row is None or band is None:
        beyond = "this pipe is wider than its table" if row is None else "this is beyond its temperatures"
        return Wait(time=None, why=why, source=f"solvent_cement: {beyond}; ask the maker of the cement")
    damp = conditions.humidity > _DAMP
    hours = float(row[column][band]) * (float(shipped.rules["damp"]["value"]) if damp else 1.0)
    more = ", half again for damp air" if damp else ""
    return Wait(time=hours * HOUR, why=why, source=f"table solvent_cement{more}: {shipped.source}")


def silicone_wait(depth: float) -> Wait:
    """Return how long silicone cures before water stands on it; ``depth`` is that of its joints, [m]."""
    name = "silicone_fill_deep" if depth > DEEP + 1e-9 else "silicone_fill"
    return _rule(name, f"silicone, joints {show(depth, 'length')} deep")


def silicone_move() -> Wait:
    """Return how long silicone cures before the tank is moved."""
    return _rule("silicone_move", "silicone")


def foam_wait(gap: float) -> Wait:
    """Return how long foam in a gap so wide cures before it is worked on, [m]."""
    thick = gap > float(table("consumable").rules["foam_layer"]["value"]) + 1e-9
    why = f"foam {show(gap, 'length')} thick" + (", poured in layers" if thick else "")
    return _rule("foam_cure_thick" if thick else "foam_cure", why)


def leak_wait() -> Wait:
    """Return how long the bare tank stands full."""
    return _rule("leak_test", "the bare tank stands full")


def wet_wait() -> Wait:
    """Return how long pipework runs before it is hidden."""
    return _rule("wet_test", "the pipework runs")


def rinse_wait() -> Wait:
    """Return how long new pipework is left and rinsed before livestock."""
    rule = table("solvent_cement").rules["stocking"]
    return Wait(time=float(rule["value"]) * HOUR, why="cement", source=str(rule["source"]))


def _rule(name: str, why: str) -> Wait:
    rule = table("consumable").rules[name]
    return Wait(time=float(rule["value"]) * HOUR, why=why, source=str(rule["source"]))
