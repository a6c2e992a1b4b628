"""What happens to a model's water when something fails: power, drain, pump, sock, fitting, or just time.

Each event is taken alone, unnoticed, and to its end, on the exact volumes of tank and sump. Left out: how
long it takes, waves, water that clings to walls, moss and plants, two failures at once.
"""

from __future__ import annotations

from layout3d.flow.overflow import water_of_scene
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit
from layout3d.outage.fill_mark import fill_mark
from layout3d.outage.flood_books import Books
from layout3d.outage.flood_data import Flood
from layout3d.outage.flood_parts import clogged_socks, failing_holes, stopped_pumps
from layout3d.outage.flood_time import chamber_run_down
from layout3d.outage.flood_water import blocked_drains, failed_power_cuts, power_cut
from layout3d.water.kept import kept

__all__ = ["flood"]


@kept
def flood(model: Model) -> Flood | None:
    """Return what every failure does to the water; None for a model without a circuit.

    Raises
    ------
    LayoutError : as :func:`layout3d.outage.circuit.circuit`.
    """
    found = circuit(model)
    if found is None:
        return None
    books = Books(model=model, found=found)
    cut = power_cut(books)
    failed = failed_power_cuts(books)
    down = chamber_run_down(model, found)
    worst = max((cut, *failed), key=lambda event: event.moved.high)
    limit = model.scene.catalog.limit
    figures = {
        "loss": 0.0 if down.loss is None else down.loss.high,
        "interval": limit("top_up_interval").value,
        "margin": limit("sump_margin").value,
        "cover": limit("water_cover").value,
        "density": water_of_scene(model).density,
    }
    return Flood(
        circuit=found,
        power_cut=cut,
        failed=failed,
        blocked=blocked_drains(books),
        stopped=stopped_pumps(books, cut),
        clogged=clogged_socks(books),
        holes=failing_holes(books),
        run_down=down,
        mark=fill_mark(found, cut, **figures),
        careful_mark=fill_mark(found, worst, **figures),
    )
