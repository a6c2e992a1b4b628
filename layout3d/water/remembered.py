"""Keeps what was computed from a model by what was read of it, so that nothing is computed twice.

Whoever computes something from a model gets one that notes what it is asked for, and what it answers. What
was found for a model holds for one that was built from it by a change, if that answers all the same: nobody
has to say what a result rests on. What answers by another kept result rests on that result alone, so that
what comes out the same is as good as unchanged.
"""

from __future__ import annotations

import dataclasses
import functools
import threading
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Concatenate, Generic, ParamSpec, TypeVar, cast

from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.model.same import same
from layout3d.parts.base import Built
from layout3d.scene.scene import Scene
from layout3d.units import shown_in

__all__ = ["kept"]

Result = TypeVar("Result")
Given = ParamSpec("Given")
Question = tuple[Any, ...]  # a name or a kept function, with what it is asked for

# methods of a model that are asked for by their arguments
TELLS = ("body", "bodies_of", "near", "of_kind", "such")
OF_JOINS = ("cut_apart",)  # those that rest on the joins alone
UNTOLD = ("what failed",)  # a question that no model answers: the result is made anew for each


def kept(find: Callable[Concatenate[Model, Given], Result]) -> Callable[Concatenate[Model, Given], Result]:
    """Make a function of a model compute once for each model, and not again while it would read the same.

    What it is given besides are names. A result must not hold the model itself; the model holds it.
    """
    lock = threading.RLock()

    @functools.wraps(find)
    def found(model: Model | _Watched, *given: str) -> Result:
        question = (found, *given)
        if isinstance(model, _Watched):
            result: Result = model.ask(question)
            return result
        with lock:
            entry: _Entry[Result] | None = model.known.get(question)
            if entry is None:
                before: _Entry[Result] | None = model.before.get(question)
                if before is not None and before.holds_for(model):
                    entry = before
                else:
                    entry = _made(find, model, given)
                    if before is not None and same(before.result, entry.result):
                        entry = dataclasses.replace(entry, result=before.result)
                model.known[question] = entry
            return entry.result

    return cast("Callable[Concatenate[Model, Given], Result]", found)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Entry(Generic[Result]):
    """A result with what was read for it, in the order in which it was."""

    result: Result
    read: dict[Question, object]

    def holds_for(self, model: Model) -> bool:
        """Tell whether a model answers all that was read as the one before did."""
        checked = model.checked
        for question, answer in self.read.items():
            known = (question, id(answer))
            if known not in checked:
                # the answer is held, so that its address is nobody else's
                checked[known] = (_answers(model, question, answer), answer)
            if not checked[known][0]:
                return False
        return True


def _made(find: Callable[..., Result], model: Model, given: tuple[str, ...]) -> _Entry[Result]:
    watched = _Watched(model)
    with shown_in(watched.scene.style):
        return _Entry(find(cast("Model", watched), *given), watched.read)


class _Watched:
    """Stands in for a model, and notes what is read of it."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self.read: dict[Question, object] = {}
        self.scene = cast("Scene", _Part(self, "scene"))
        self.built = _Parts(self)

    def ask(self, question: Question) -> Any:
        """Answer a question, and note both."""
        if question not in self.read:
            try:
                self.read[question] = _answer(self._model, question)
            except Exception:
                self.read[UNTOLD] = None  # whoever asked may go on without an answer
                raise
        return self.read[question]

    def __getattr__(self, name: str) -> Any:
        if name in TELLS:
            return lambda *given: self.ask((name, *given))
        if name in OF_JOINS:
            self.ask(("joins",))
            return getattr(self._model, name)
        value = self.ask((name,))
        if callable(value):
            raise RuntimeError(f"what Model.{name} reads is not known (remembered._Watched)")
        return value


class _Part:
    """Stands in for the scene of a model: its fields are asked for one by one."""

    def __init__(self, watched: _Watched, name: str) -> None:
        self._watched, self._name = watched, name

    def __getattr__(self, name: str) -> Any:
        if name in ("part", "place_of"):
            return lambda given: self._watched.ask((self._name, name, given))
        return self._watched.ask((self._name, name))


class _Parts(Mapping[str, Built[Any, Any]]):
    """Stands in for the built parts of a model: these are asked for one by one."""

    def __init__(self, watched: _Watched) -> None:
        self._watched = watched

    def __getitem__(self, name: str) -> Built[Any, Any]:
        built: Built[Any, Any] | None = self._watched.ask(("built", name))
        if built is None:
            raise KeyError(name)
        return built

    def __iter__(self) -> Iterator[str]:
        return iter(self._watched.ask(("built",)))

    def __len__(self) -> int:
        return len(self._watched.ask(("built",)))


def _answer(model: Model, question: Question) -> Any:
    match question:
        case ("built", name):
            return model.built.get(name)
        case ("built",):
            return tuple(model.built)
        case ("scene", name):
            return getattr(model.scene, name)
        case ("scene", name, given):
            return getattr(model.scene, name)(given)
        case (str() as name, *given):
            value = getattr(model, name)
            return value(*given) if name in TELLS else value
        case (found, *given):
            return found(model, *given)


def _answers(model: Model, question: Question, answer: object) -> bool:
    if question == UNTOLD:
        return False
    try:
        return same(_answer(model, question), answer)
    except (LayoutError, KeyError):
        return False
