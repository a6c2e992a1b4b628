"""Fine grain of rock, sand and wood, drawn pixel by pixel, so that a surface stays sharp from near.

Colours are kept at corners, some millimetres apart: from near they would blur. Over them lies noise in space
of a few wavelengths, each of which fades out before it would get finer than a pixel; so nothing flickers, and
from afar nothing changes. It is read as little bumps: half its height, half its slope towards the light.
Value noise on a lattice, turned for each wave so that its axes don't show, its corners by an integer hash:
alike on every machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from layout3d.files import own_data
from layout3d.solid.placement import Vector

__all__ = ["grain"]

_SHARE, _WAVE, _FROM = "grainShare", "grainWave", "grainFrom"


@cache
def _code() -> Mapping[str, str]:
    read: Mapping[str, str] = own_data(Path(__file__).with_suffix(".yaml"))
    return read


def grain(actor: Any, share: float, wave: float, origin: Vector) -> None:
    """Give a surface its fine grain.

    Parameters
    ----------
    share : how far it lightens and darkens, 0 … 1
    wave : its longest wave, [m]
    origin : the point that it counts from, [m]
    """
    if share <= 0.0:
        return
    code, shader = _code(), actor.GetShaderProperty()
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Dec", True, "out vec3 grainAt;\n//VTK::Normal::Dec", False
    )
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Impl", True, "grainAt = vertexMC.xyz - grainFrom;\n//VTK::Normal::Impl", False
    )
    shader.AddFragmentShaderReplacement("//VTK::Color::Dec", True, code["functions"], False)
    shader.AddFragmentShaderReplacement("//VTK::Color::Impl", True, code["colour"], False)
    shader.GetFragmentCustomUniforms().SetUniformf(_SHARE, share)
    shader.GetFragmentCustomUniforms().SetUniformf(_WAVE, wave)
    shader.GetVertexCustomUniforms().SetUniform3f(_FROM, origin)
