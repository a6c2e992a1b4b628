"""Heaters close to what melts or burns: a rod gets far hotter than the water as soon as that leaves it."""

from __future__ import annotations

from layout3d.checks.base import CURRENT, Findings, rule
from layout3d.checks.measure import limit, missing, too_near
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.solid.distance import gap

FOAMS = ("rigid polyurethane foam", "expanding polyurethane foam", "eps", "xps", "foam rubber", "filter foam")
PLASTICS = ("pvc", "foamed pvc", "acrylic", "polycarbonate", "polyethylene", "polypropylene", "plastic grid")
"""Materials of the catalogue that a heater out of the water melts or sets on fire."""


@rule(
    "heater-to-plastic",
    asks="Heaters keep off foam, acrylic and other plastic.",
    caution=CURRENT,
    limits=("heater_to_plastic", "heater_to_plastic_least"),
    follows=("overlap",),
)
def heater_to_plastic(model: Model) -> Findings:
    """Find heaters near plastic, whether it holds them or not; pumps, of no known plastic, are left out."""
    wanted = limit(model, "heater_to_plastic")
    for built in model.heaters:
        rod = built.bodies[0]
        low, high = rod.solid.bounds
        for other in model.near(vector(low - wanted), vector(high + wanted)):
            if other.material not in (*FOAMS, *PLASTICS):
                continue
            between = gap(rod.solid, other.solid)
            if missing(between.distance, wanted):
                remedy = (
                    f"move {rod.part} {{short}} away from {other.part}, or hold it by suction cups on glass"
                )
                limits = "heater_to_plastic", "heater_to_plastic_least"
                yield from too_near(model, rod, other, between, *limits, remedy=remedy)
