"""Fine grain of rock, sand and wood, drawn pixel by pixel, so that a surface stays sharp from near.

Colours are kept at corners, some millimetres apart: from near they would blur. Over them lies noise in space
of a few wavelengths, each of which fades out before it would get finer than a pixel; so nothing flickers, and
from afar nothing changes. It is read as little bumps: half its height, half its slope towards the light.
Value noise on a lattice, turned for each wave so that its axes don't show, its corners by an integer hash:
alike on every machine.
"""

from __future__ import annotations

from typing import Any

from layout3d.solid.placement import Vector

__all__ = ["grain"]

_SHARE, _WAVE, _FROM = "grainShare", "grainWave", "grainFrom"
_FUNCTIONS = """
in vec3 grainAt;
float grainCorner(ivec3 at)
{
  uvec3 q = uvec3(at);
  uint h = q.x * 73856093u ^ q.y * 19349663u ^ q.z * 83492791u;
  h ^= h >> 13; h *= 1540483477u; h ^= h >> 15;
  return float(h & 65535u) / 32767.5 - 1.0;
}
const mat3 grainTurn = mat3(0.60, 0.64, -0.48, -0.80, 0.48, -0.36, 0.0, 0.60, 0.80);
float grainNoise(vec3 p, vec3 grainLight)
{
  ivec3 i = ivec3(floor(p));
  vec3 f = fract(p);
  vec3 u = f * f * (3.0 - 2.0 * f);
  vec3 rise = 6.0 * f * (1.0 - f);
  vec4 low = vec4(grainCorner(i), grainCorner(i + ivec3(1, 0, 0)),
                  grainCorner(i + ivec3(0, 1, 0)), grainCorner(i + ivec3(1, 1, 0)));
  i.z += 1;
  vec4 high = vec4(grainCorner(i), grainCorner(i + ivec3(1, 0, 0)),
                   grainCorner(i + ivec3(0, 1, 0)), grainCorner(i + ivec3(1, 1, 0)));
  vec4 level = mix(low, high, u.z);
  vec2 row = mix(level.xz, level.yw, u.x);
  vec4 slope = high - low;
  vec2 steep = mix(slope.xz, slope.yw, u.x);
  vec3 gradient = rise * vec3(mix(level.y - level.x, level.w - level.z, u.y), row.y - row.x,
                              mix(steep.x, steep.y, u.y));
  return 0.5 * mix(row.x, row.y, u.y) + 0.45 * dot(gradient, grainLight);
}
//VTK::Color::Dec
"""
_COLOUR = """
//VTK::Color::Impl
  float grainFoot = length(fwidth(grainAt));
  if (1.8 * grainFoot < grainWave)
  {
    float grainSum = 0.0;
    float grainLong = grainWave;
    vec3 grainPlace = grainAt;
    vec3 grainLight = vec3(-0.40, -0.62, 0.68);
    for (int octave = 0; octave < 3; octave++)
    {
      float seen = clamp(1.0 - 1.8 * grainFoot / grainLong, 0.0, 1.0);
      grainPlace = grainTurn * grainPlace;
      grainLight = grainTurn * grainLight;
      if (seen > 0.0) { grainSum += seen * 0.60 * grainNoise(grainPlace / grainLong, grainLight); }
      grainLong *= 0.36;
    }
    diffuseColor *= 1.0 + grainShare * grainSum;
    ambientColor *= 1.0 + grainShare * grainSum;
  }
"""


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
    shader = actor.GetShaderProperty()
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Dec", True, "out vec3 grainAt;\n//VTK::Normal::Dec", False
    )
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Impl", True, "grainAt = vertexMC.xyz - grainFrom;\n//VTK::Normal::Impl", False
    )
    shader.AddFragmentShaderReplacement("//VTK::Color::Dec", True, _FUNCTIONS, False)
    shader.AddFragmentShaderReplacement("//VTK::Color::Impl", True, _COLOUR, False)
    shader.GetFragmentCustomUniforms().SetUniformf(_SHARE, share)
    shader.GetFragmentCustomUniforms().SetUniformf(_WAVE, wave)
    shader.GetVertexCustomUniforms().SetUniform3f(_FROM, origin)
