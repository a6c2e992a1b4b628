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

__all__ = ["Wait", "cement_wait", "foam_wait", "rule_wait", "silicone_wait"]

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


def cement_wait(pipe: Pipe, conditions: Conditions, *, set_only: bool = False) -> Wait:
    """Return how long a cemented joint cures before it is put under pressure.

    With ``set_only`` how long it sets before it may be moved with care.
    """
    column, what = ("set", "set of") if set_only else ("cure", "cement of")
    shipped, row = table("solvent_cement"), cement_row_of(pipe)
    celsius = conditions.air_temperature - _ZERO
    band = next((k for k, (low, high) in enumerate(_BANDS) if low <= celsius <= high), None)
    why = f"{what} {pipe.name} at {show(conditions.air_temperature, 'temperature')}"
    if row is None or band is None:
        beyond = "this pipe is wider than its table" if row is None else "this is beyond its temperatures"
        return Wait(time=None, why=why, source=f"solvent_cement: {beyond}; ask the maker of the cement")
    damp = conditions.humidity > _DAMP
    hours = float(row[column][band]) * (shipped.rule("damp")[0] if damp else 1.0)
    more = ", half again for damp air" if damp else ""
    return Wait(time=hours * HOUR, why=why, source=f"table solvent_cement{more}: {shipped.source}")


def silicone_wait(depth: float) -> Wait:
    """Return how long silicone cures before water stands on it; ``depth`` is that of its joints, [m]."""
    name = "silicone_fill_deep" if depth > DEEP + 1e-9 else "silicone_fill"
    return rule_wait(name, f"silicone, joints {show(depth, 'length')} deep")


def foam_wait(gap: float) -> Wait:
    """Return how long foam in a gap so wide cures before it is worked on, [m]."""
    thick = gap > table("consumable").rule("foam_layer")[0] + 1e-9
    why = f"foam {show(gap, 'length')} thick" + (", poured in layers" if thick else "")
    return rule_wait("foam_cure_thick" if thick else "foam_cure", why)


def rule_wait(name: str, why: str, of: str = "consumable") -> Wait:
    """Return the wait that a rule of a table tells in hours, for what ``why`` says."""
    hours, source = table(of).rule(name)
    return Wait(time=hours * HOUR, why=why, source=source)
