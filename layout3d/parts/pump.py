"""A submersible pump as a simple solid with its outlet port. Its curve is in the catalogue, not here."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout3d.errors import LayoutError
from layout3d.fields import CatalogName, Choice, Flag, Length, Number, Text, field
from layout3d.parts.base import Built, Join, PlacedPart, Port, Site, Vector, vector
from layout3d.parts.shapes.equipment import casing, stood, tube_of_bore
from layout3d.solid.boolean import difference, union, whole
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement

_WAYS: dict[str, Vector] = {"up": (0.0, 0.0, 1.0), "side": (1.0, 0.0, 0.0)}
INLET_SHARE = 0.45
"""Height of the inlet over the base, as a share of the pump's height; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Pump(PlacedPart):
    """A pump; ``at`` is the middle of its base, its inlet faces its own left end."""

    kind = "pump"
    group = "equipment"
    points = {  # noqa: RUF012 - annotated in the base
        "outlet": "port: what it pumps comes out here",
        "inlet": "anchor: where it draws water in",
        "top": "anchor: the middle of its top",
    }

    model: str = field(CatalogName("pump"), doc="its curve and size in the catalogue")
    speed: float = field(
        Number(least=0.05, most=1.0), 1.0, doc="setting; 70 % is 0.7: flow goes with it, head with its square"
    )
    faces: str = field(Choice(("up", "side")), "up", doc="the way its outlet points, before it is turned")
    outlet: str = field(
        Text(60),
        "",
        doc="pipe (a socket) or tube (a barb) that goes on its outlet; by default a tube of its bore",
    )
    air: bool = field(Flag(), False, doc="true: an air pump, which stands dry and feeds an air line")
    stops_dry: bool = field(Flag(), False, doc="true: it stops by itself, unharmed, when it draws air")
    clear: float = field(Length(0.0, 1.0), 0.10, doc="space kept clear above it for hand, hose and cable")

    def build(self, site: Site) -> Built[Pump, None]:
        """Build casing, outlet and ports."""
        entry = site.catalog.pump(self.model)
        if entry.air and not self.air:
            raise self.mistake(
                "model", f"{self.model} is an air pump", expected="`air: true` beside it, or a water pump"
            )
        length, width, height = entry.size
        size, end, bore, outside, depth = self._outlet(site)
        stub = max(depth + 0.004, 0.012)
        room = min(length, width) if self.faces == "up" else min(width, height)
        if outside > room:
            raise self.mistake(
                "outlet" if self.outlet else "model",
                f"an outlet {site.length(outside)} wide on a pump that is {site.length(room)} wide there",
                expected="an outlet that the pump has room for",
                remedy="name a smaller pipe or tube, and go up in size behind it (`reduce:`)",
            )
        way, up = np.array(_WAYS[self.faces]), (0.0, 1.0, 0.0)
        root = np.array([0.0, 0.0, height]) if self.faces == "up" else np.array([length / 2, 0.0, height / 2])
        sunk = 0.3 * min(height, length)
        box = casing(length, width, height, 0.18 * width).solid()
        neck = cylinder(outside / 2, sunk + stub).solid(Placement.from_frame(root - way * sunk, up, way))
        start = root - way * (sunk - 0.004)
        bores = [cylinder(bore / 2, sunk + stub).solid(Placement.from_frame(start, up, way))]
        mouth = (-length / 2 - 0.001, 0.0, INLET_SHARE * height)
        inlet = Placement.from_frame(mouth, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
        bores.append(cylinder(0.3 * min(width, height), 0.012).solid(inlet))
        if end == "socket":
            socket = cylinder(site.catalog.pipe(size).outside_diameter / 2, depth + 0.001)
            bores.append(socket.solid(Placement.from_frame(root + way * (stub - depth), up, way)))
        pump = whole(difference(whole(union([box, neck]), "pump"), bores), "pump")
        built = stood(
            self,
            site,
            pump,
            material="pump",
            anchors={"inlet": (-length / 2, 0.0, INLET_SHARE * height), "top": (0.0, 0.0, height)},
            clear=self.clear,
            why="hand, hose and cable",
        )
        body = built.bodies[0]
        port = Port(
            name=f"{self.name}.outlet",
            at=vector(body.solid.placement.apply(root + way * stub)),
            direction=vector(body.solid.placement.direction(way)),
            end=end,
            size=size,
            bore=bore,
            body=body.name,
            depth=depth if end == "socket" else stub - 0.004,
        )
        return replace(built, ports=(port,), joins=(*built.joins, Join(self.name, self.name, "rests")))

    def _outlet(self, site: Site) -> tuple[str, str, float, float, float]:
        """Return size, end, bore, outside and socket depth of the outlet."""
        entry = site.catalog.pump(self.model)
        name = self.outlet or tube_of_bore(site, self, entry.outlet)
        try:
            pipe = site.catalog.pipe(name)
        except LayoutError:
            try:
                tube = site.catalog.tube(name)
            except LayoutError as error:
                raise self.mistake(
                    "outlet" if self.outlet else "model",
                    f"{name!r} is neither a pipe nor a tube in the catalogue",
                    expected="a name such as 3/4 in sch 40, d25 pn 10 or 16/22 mm",
                ) from error
            # the barb: 5 % over the tube's bore, its own bore 0.75 of it (common practice, no source)
            return tube.name, "barb", 0.75 * tube.inside, 1.05 * tube.inside, 1.4 * tube.inside
        return pipe.name, "socket", pipe.inside_diameter, pipe.hub_diameter, pipe.socket_depth
