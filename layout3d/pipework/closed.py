"""What closes a mouth of pipework: foam, sand, rock or wood that lies against its opening."""

from __future__ import annotations

from layout3d.model.around import Around, around_body, around_mouth
from layout3d.model.model import Model
from layout3d.pipework.graph import Mouth

__all__ = ["against", "closed"]


def against(model: Model, mouth: Mouth) -> Around:
    """Tell how much of a mouth's opening lies against other parts; of a basket or a stone, of all of it."""
    if mouth.kind in ("strainer", "air_stone"):
        return around_body(model, model.body(mouth.body))
    return around_mouth(model, mouth.at, mouth.direction, mouth.bore, part=mouth.part)


def closed(model: Model, mouth: Mouth) -> bool:
    """Tell whether nothing is to be counted on to get through a mouth, by the limit ``buried_share``."""
    if mouth.kind == "holes":
        return False  # drip holes are judged one by one
    return against(model, mouth).share > model.scene.catalog.limit("buried_share").value
