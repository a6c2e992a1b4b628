"""The picture of all that stays while a part is dragged: drawn once, then laid under what moves.

Kept as colours and depths on the drawing library's own side, so that what moves goes behind what is nearer.
Clear things count as colours only: a part in the hand is drawn over glass and water.
"""

from __future__ import annotations

from typing import Any

__all__ = ["Backdrop"]

COLOURS, DEPTHS, NEAREST = 0x4000, 0x100, 0x2600  # of OpenGL
READ, DRAW, BOTH = 0x8CA8, 0x8CA9, 0x8D40
BYTES, DEPTH_BITS = 3, 32  # as the drawing library has them in the picture that is copied


class Backdrop:
    """What a frame of a plotter showed, to be laid under those that follow.

    ``key`` names what the kept frame hangs on, None while there is none.
    """

    def __init__(self, plotter: Any) -> None:
        self.key: object = None
        self._renderer, self._window = plotter.renderer, plotter.ren_win
        self._kept: Any = None
        self._wanted: object = None
        self._heard: list[int] = []
        self._lies_there = False  # in the window's own picture, as it was drawn last

    def take(self, key: object) -> None:
        """Keep what the next frame shows, under this key."""
        self.drop()
        self._wanted = key
        for event, answer in (("StartEvent", self._lay), ("EndEvent", self._take)):
            self._heard.append(self._renderer.AddObserver(event, answer))

    def drop(self) -> None:
        """Lay nothing under the next frames."""
        self.key = self._wanted = None
        self._renderer.SetErase(True)
        while self._heard:  # the library would keep what listens, and by it the plotter
            self._renderer.RemoveObserver(self._heard.pop())

    def _take(self, *_: object) -> None:
        if self._wanted is None:
            return
        from vtkmodules.vtkRenderingOpenGL2 import vtkOpenGLFramebufferObject

        wide, high = self._window.GetSize()
        if self._kept is None or self._kept.GetLastSize() != (wide, high):
            self._kept = vtkOpenGLFramebufferObject()
            self._kept.SetContext(self._window)
            stencil = bool(self._window.GetStencilCapable())
            if not self._kept.PopulateFramebuffer(
                wide, high, True, 1, BYTES, True, DEPTH_BITS, self._window.GetMultiSamples(), stencil
            ):
                self._kept = self._wanted = None  # then every frame is drawn whole
        if self._kept is not None:
            self._copy(self._window.GetRenderFramebuffer(), self._kept)
            self.key, self._wanted, self._lies_there = self._wanted, None, True
            self._renderer.SetErase(False)
        self._bind()

    def _lay(self, *_: object) -> None:
        if self.key is not None and not self._lies_there:
            self._copy(self._kept, self._window.GetRenderFramebuffer())
            self._bind()
        self._lies_there = False

    def _copy(self, source: Any, target: Any) -> None:
        wide, high = self._window.GetSize()
        source.Bind(READ)
        source.ActivateReadBuffer(0)
        target.Bind(DRAW)
        target.ActivateDrawBuffer(0)
        state = self._window.GetState()
        state.vtkglBlitFramebuffer(0, 0, wide, high, 0, 0, wide, high, COLOURS | DEPTHS, NEAREST)

    def _bind(self) -> None:
        """Draw on the window's own picture again."""
        own = self._window.GetRenderFramebuffer()
        own.Bind(BOTH)
        own.ActivateReadBuffer(0)
        own.ActivateDrawBuffer(0)
