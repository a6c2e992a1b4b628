"""All that a builder takes to shop and bench, from one model: parts, cuts, panes, sheets."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.model.model import Model
from layout3d.shop.cut_list import CutList, cut_list
from layout3d.shop.fault import Fault
from layout3d.shop.panes import Pane, panes
from layout3d.shop.parts_list import parts_list
from layout3d.shop.rows import Row
from layout3d.shop.slab import SheetUse, SlabPiece, sheet_uses, slab_pieces

__all__ = ["Shop", "shop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What is bought and cut. ``not_counted`` says in words what no figure is known for."""

    parts: tuple[Row, ...]
    not_counted: tuple[str, ...]
    cuts: CutList
    panes: tuple[Pane, ...]
    slabs: tuple[SlabPiece, ...]
    sheets: tuple[SheetUse, ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Return what can't be made as the scene has it."""
        return self.cuts.faults


def shop(model: Model) -> Shop:
    """Return what is bought and cut for a model.

    Raises
    ------
    UnknownName : the scene's ``shop:`` names something that isn't there.
    """
    cuts, glass, slabs = cut_list(model), panes(model), slab_pieces(model)
    sheets, unknown = sheet_uses(model, slabs)
    rows, not_counted = parts_list(model, cuts=cuts, panes=glass, sheets=sheets)
    return Shop(
        parts=rows,
        not_counted=(
            *not_counted,
            *(
                f"sheets of {material}: no size is known; give it under `shop: sheets:`"
                for material in unknown
            ),
            "glue joints of panes: but for baffles, panes are told as if they touched; the glazier takes off "
            "what his joints need",
        ),
        cuts=cuts,
        panes=glass,
        slabs=slabs,
        sheets=sheets,
    )
