"""The model of a scene's last check with all that was found of it, kept for the next check of the scene.

The next one builds from it, as ``live`` builds from the model before a change: what a change doesn't touch is
neither built nor looked at again, and whatever the file has become meanwhile, what is told of it is the same.
Shapes are filed apart, once for all models that they stand in.
"""

from __future__ import annotations

import contextlib
import dataclasses
import importlib
import io
import pickle
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.keep import Form, code_of, file_away, key_of, recalled
from layout3d.model.model import Model
from layout3d.scene.scene import Reading
from layout3d.solid.shape import Shape
from layout3d.solid.store import file_shape, filed_shape

__all__ = ["keep_last", "last_model"]

OURS = (
    *("band", "catalog", "checks", "errors", "fields_composite", "fields", "fittings", "flow", "glass"),
    *("hold", "model", "outage", "parts", "pipework", "scene", "shop", "solid", "swim", "water"),
)
"""Where in the package that which a model is made of comes from: floors that only compute."""
_ROW: Any = np.zeros(1)
_MORE: tuple[Any, ...] = (
    *(object, np.dtype, np.ndarray, type(Path())),
    *(_ROW.__reduce__()[0], _ROW.__reduce_ex__(5)[0], _ROW[0].__reduce__()[0]),  # what makes arrays
)
OTHERS = {(each.__module__, each.__qualname__): each for each in _MORE}
"""What else may stand in a kept model. Nothing but these is ever made of a file's bytes."""
_FIELDS = tuple(each.name for each in dataclasses.fields(Model) if each.init and each.name != "before")


def keep_last(scene: Path, model: Model) -> None:
    """Keep a model of a scene file, with all that was found of it, for the next check."""
    # what of it can't be written, if anything, is no reason to fail: the next check does without
    with contextlib.suppress(pickle.PicklingError, AttributeError, TypeError, RecursionError):
        file_away(_key(scene), MODEL, model)


def last_model(scene: Path) -> Model | None:
    """Return the model of a scene file's last check, to build from; None where none is known."""
    return recalled(_key(scene), MODEL)


def _key(scene: Path) -> bytes:
    return key_of("last model", code_of(), str(scene.absolute()))


class _Packer(pickle.Pickler):
    def reducer_override(self, value: Any) -> Any:
        """Name a shape instead of writing it."""
        if type(value) is not Shape:
            return NotImplemented
        file_shape(value)
        return _by_key, (value.key,)


def _by_key(key: str) -> Shape:
    shape = filed_shape(key)
    if shape is None:
        raise ValueError("a model without its shapes")
    return shape


class _Unpacker(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        """Return one of the types and functions that may stand in a model."""
        if (module, name) in OTHERS:
            return OTHERS[module, name]
        package, _, rest = module.partition(".")
        if package == "layout3d" and rest.split(".")[0] in OURS:
            found = vars(importlib.import_module(module))[name]
            if found.__module__ == module:
                return found
        raise ValueError(f"no part of a model: {module}.{name}")


def _packed(model: Model) -> bytes:
    content = io.BytesIO()
    given = {name: getattr(model, name) for name in _FIELDS}
    given["scene"] = dataclasses.replace(model.scene, read=Reading())  # parts are sooner read anew
    _Packer(content, pickle.HIGHEST_PROTOCOL).dump((given, model.known))
    return content.getvalue()


def _unpacked(content: bytes) -> Model:
    """Read a model; ValueError for bytes that are none."""
    try:
        given, known = _Unpacker(io.BytesIO(content)).load()
        model = Model(**given)
        model.known.update(known)
    except Exception as fault:  # bytes that are no model can end in anything
        raise ValueError("not a model") from fault
    return model


MODEL: Form[Model] = Form(
    "model with what was found of it",
    _packed,
    _unpacked,
    lambda model: 100 * sum(body.solid.face_count for body in model.bodies),
)
