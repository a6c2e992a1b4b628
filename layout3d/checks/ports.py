"""Ports by the names that runs call them by."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.parts.base import Port

__all__ = ["port_named"]


def port_named(model: Model, name: str) -> Port | None:
    """Return a port by its full name or without the tank's, or None."""
    return model.ports.get(name) or model.ports.get(f"{model.tank_name}.{name}")
