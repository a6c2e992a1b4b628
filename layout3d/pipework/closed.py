"""What closes a mouth of pipework: foam, sand, rock or wood that lies against its opening."""

from __future__ import annotations

from layout3d.model.around import Around, around_body, around_mouth
from layout3d.model.model import Model
from layout3d.pipework.graph import Mouth
from layout3d.pipework.read import pipework
from layout3d.water.remembered import kept

__all__ = ["against", "closed"]


@kept
def against(model: Model) -> dict[Mouth, Around]:
    """Tell how much of each mouth's opening lies against other parts; of a basket or a stone, of all of it.

    Drip holes are left out: they are judged one by one.
    """
    return {
        mouth: around_body(model, model.body(mouth.body))
        if mouth.kind in ("strainer", "air_stone")
        else around_mouth(model, mouth.at, mouth.direction, mouth.bore, part=mouth.part)
        for mouth in pipework(model).mouths
        if mouth.kind != "holes"
    }


def closed(model: Model, mouth: Mouth) -> bool:
    """Tell whether nothing is to be counted on to get through a mouth, by the limit ``buried_share``."""
    around = against(model).get(mouth)
    return around is not None and around.share > model.scene.catalog.limit("buried_share").value
