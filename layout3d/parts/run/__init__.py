"""A run of pipe or tube, told as a builder tells it."""

from layout3d.parts.run.fields import Drip, Supports
from layout3d.parts.run.kind import Run

__all__ = ["Drip", "Run", "Supports"]
