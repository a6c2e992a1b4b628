"""The ``shop:`` section of a scene: what things come in, the saw, prices, and what goes before what."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Choice, Length, Name, Number, Quantity, Text, field
from layout3d.fields_composite import Listing, record

__all__ = ["MEASURES", "Before", "Pack", "Sheet", "ShopFields", "Stock"]

MEASURES = ("count", "length", "area", "volume", "mass")
"""What an item of the parts list is counted in."""

_SIDE = Length(0.05, 20.0)
_PRICE = Number(least=0.0)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """A length that a pipe is sold in."""

    pipe: str = field(CatalogName("pipe"), doc="which pipe")
    length: float = field(_SIDE, doc="of one bar as it is sold")
    price: float | None = field(_PRICE, None, doc="of one bar")


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A sheet that slabs are sawn from."""

    material: str = field(CatalogName("material"), doc="which material")
    length: float = field(_SIDE, doc="of one sheet")
    width: float = field(_SIDE, doc="of one sheet")
    thickness: float = field(Length(0.002, 0.5), doc="of one sheet; thicker slabs are glued from layers")
    price: float | None = field(_PRICE, None, doc="of one sheet")


@dataclass(frozen=True, kw_only=True)
class Pack:
    """What one pack of an item holds, and its price."""

    item: str = field(Text(80), doc="the item as the parts list names it, such as silicone or elbow 90")
    size: str = field(Text(80), "", doc="its size as the parts list has it; all sizes if not given")
    count: float | None = field(Number(above=0.0), None, doc="pieces in a pack")
    length: float | None = field(Quantity("length", above=0.0), None, doc="or its length")
    area: float | None = field(Quantity("area", above=0.0), None, doc="or its area")
    volume: float | None = field(
        Quantity("volume", above=0.0), None, doc="or its volume; of foam, as it has risen"
    )
    mass: float | None = field(
        Quantity("mass", above=0.0), None, doc="or its dry mass, of beds and filter media"
    )
    price: float | None = field(_PRICE, None, doc="of one pack")

    def __post_init__(self) -> None:
        """Refuse a pack that holds nothing, or two things."""
        given = [name for name in MEASURES if getattr(self, name) is not None]
        if len(given) != 1:
            raise SceneMistake(
                f"{' and '.join(given) or 'no content'} given",
                expected=f"exactly one of {', '.join(MEASURES)}",
            )

    @property
    def measure(self) -> str:
        """Return what it is counted in."""
        return next(name for name in MEASURES if getattr(self, name) is not None)

    @property
    def holds(self) -> float:
        """Return how much of that is in it, SI."""
        held: float = getattr(self, self.measure)
        return held


@dataclass(frozen=True, kw_only=True)
class Before:
    """One part that goes in before another."""

    first: str = field(Name("a part, or a hole of the tank for its bulkhead"), doc="what goes in first")
    then: str = field(Name("a part, or a hole of the tank for its bulkhead"), doc="what goes in after it")
    why: str = field(Text(), "", doc="the reason, told with the step")


@dataclass(frozen=True, kw_only=True)
class ShopFields:
    """What `make` has to know beside the parts themselves."""

    kerf: float | None = field(Length(0.0, 0.01), None, doc="that the saw takes off a pipe at each cut")
    tank: str = field(
        Choice(("panes", "whole")), "panes", doc="whole: the tank is bought bonded, and drilled by its maker"
    )
    stocks: tuple[Stock, ...] = field(
        Listing(record(Stock, "a stock")), (), doc="lengths that pipes are sold in"
    )
    sheets: tuple[Sheet, ...] = field(
        Listing(record(Sheet, "a sheet")), (), doc="sheets that slabs are sawn from"
    )
    packs: tuple[Pack, ...] = field(Listing(record(Pack, "a pack")), (), doc="what packs hold, and prices")
    currency: str = field(Text(12), "", doc="of the prices; shown behind them")
    in_place: tuple[str, ...] = field(
        Listing(Name("a part, or a hole of the tank for its bulkhead")),
        (),
        doc="what stands already before the work begins: no step puts it in, and it is in the way of others",
    )
    order: tuple[Before, ...] = field(
        Listing(record(Before, "a pair")), (), doc="what goes in before what, where the builder knows better"
    )
