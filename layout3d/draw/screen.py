"""A stage on a screen that nobody sees: actors, lights, camera, pixels. No text and no marks."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from functools import cache, cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import Camera
from layout3d.draw.grain import grain
from layout3d.draw.mesh import array_of, held, mesh_of
from layout3d.draw.pieces import Lines, Piece, Stage
from layout3d.draw.style import PAGE, Colour
from layout3d.solid.placement import Vector

__all__ = [
    "Screen",
    "lines_on",
    "opened",
    "quick_smoothing",
    "quiet",
    "recolour",
    "set_page",
    "surface",
    "use_camera",
]

Image = NDArray[np.uint8]
Shown = tuple[Piece | Lines, Any]

MIDDLE_OF = 16  # one in so many corners tells where an opaque thing is
SAMPLES = 1.5  # pixels of the screen to one of the picture, each way: edges are smooth when it is shrunk
THINNER = 0.55  # lines, whose smoothing would make them wider than they are meant
SHINE = (0.68, 0.85, 0.90)  # what shines, shines like the sky

# over the viewer's left shoulder, from the right, and from above: they turn with the view
LIGHTS: tuple[tuple[Vector, Colour, float], ...] = (
    ((-0.8, 0.9, 1.0), (1.0, 0.965, 0.910), 0.66),
    ((1.2, 0.1, 0.7), (0.902, 0.933, 0.988), 0.24),
    ((0.0, 1.0, -0.4), (0.933, 0.953, 1.0), 0.16),
)


@contextmanager
def quiet() -> Iterator[None]:
    """Keep the drawing library from writing to the terminal while it looks for a screen."""
    from vtkmodules.vtkCommonCore import vtkLogger

    before = vtkLogger.GetCurrentVerbosityCutoff()
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    try:
        yield
    finally:
        vtkLogger.SetStderrVerbosity(before)


def set_page(renderer: Any) -> None:
    """Give a renderer without lights the page behind, and soft lights."""
    from vtkmodules.vtkRenderingCore import vtkLight

    _background(renderer, PAGE.bottom, PAGE.top)
    renderer.SetUseOIT(False)  # else clear things are mixed by weight, whatever their order, and slowly
    renderer.AutomaticLightCreationOff()
    for position, colour, intensity in LIGHTS:
        light = vtkLight()
        light.SetPosition(*position)
        light.SetColor(*colour)
        light.SetIntensity(intensity)
        light.SetLightTypeToCameraLight()
        renderer.AddLight(light)


def _background(renderer: Any, bottom: Colour, top: Colour) -> None:
    renderer.SetBackground(*bottom)
    renderer.SetBackground2(*top)
    renderer.SetGradientBackground(bottom != top)


class Screen:
    """A screen that nobody sees, for any number of views: what is on it already is not put there again.

    ``size`` is that of the pictures, and ``samples`` how many times as many pixels the screen has each way.
    ``shown`` is what is seen of the stage shown last, with its actors.
    """

    def __init__(self, size: tuple[int, int], *, samples: float = SAMPLES) -> None:
        self.size, self.samples = size, samples
        self._on_it: dict[int, Shown] = {}
        self.shown: list[Shown] = []
        self._scale = 1.0
        self._maps: dict[tuple[tuple[int, int], ...], Any] = {}

    @cached_property
    def window(self) -> Any:
        """Return the drawing library's window, opened at first use."""
        wide, high = self.size
        return _window((round(wide * self.samples), round(high * self.samples)))

    @cached_property
    def renderer(self) -> Any:
        """Return the drawing library's renderer, lit and with the page behind."""
        (renderer,) = self.window.GetRenderers()
        set_page(renderer)
        return renderer

    def show(self, stage: Stage, *, scale: float) -> None:
        """Show a stage and nothing else; ``scale`` is that of line widths, 1 on a page 1600 pixels wide."""
        self._scale = scale
        items: list[Piece | Lines] = [*stage.pieces, *(one for one in stage.lines if len(one.segments))]
        if any(id(item) not in self._on_it for item in items):  # another scene or cut: as if on a new screen
            for _, actor in self._on_it.values():
                self.renderer.RemoveActor(actor)
            self._maps.clear()
            self._on_it = {id(item): (item, self.add(item, scale=scale)) for item in items}
        for _, actor in self._on_it.values():
            actor.SetVisibility(False)
        self.shown = [self._on_it[id(item)] for item in items]
        for _, actor in self.shown:
            actor.SetVisibility(True)

    def add(self, item: Piece | Lines, *, scale: float) -> Any:
        """Put one thing more on the screen, and return its actor; ``scale`` as ``show`` takes it."""
        if isinstance(item, Piece):
            return surface(self.renderer, item)
        return lines_on(self.renderer, item, scale * self.samples * THINNER)

    def pixels(
        self, camera: Camera, *, more: Sequence[Shown] = (), moved: Mapping[str, Vector] | None = None
    ) -> Image:
        """Return the picture from a camera, (height, width, 3) of 0 … 255.

        Parameters
        ----------
        more : what was added to the stage
        moved : how far bodies are drawn from where the stage has them, [m]
        """
        away = moved or {}
        for item, actor in self.shown:
            actor.SetPosition(*away.get(item.body, (0.0, 0.0, 0.0)))
        _sort([*self.shown, *more], self.renderer, camera, away)
        use_camera(self.renderer, camera)
        return self._taken()

    def clear_pixels(self, camera: Camera, **given: Any) -> Image:
        """Return it without the page behind, (height, width, 4) of 0 … 255, colours not multiplied.

        From one picture on black and one on white: what differs is what shows through.
        """
        shown = []
        for grey in (0.0, 1.0):
            _background(self.renderer, (grey, grey, grey), (grey, grey, grey))
            shown.append(self.pixels(camera, **given).astype(np.float32))
        _background(self.renderer, PAGE.bottom, PAGE.top)
        on_black, on_white = shown
        opacity = 255.0 - np.clip((on_white - on_black).mean(axis=2, keepdims=True), 0.0, 255.0)
        colour = on_black * 255.0 / np.maximum(opacity, 1.0)
        whole = np.concatenate([np.clip(colour, 0.0, 255.0), opacity], axis=2)
        return np.asarray(np.round(whole), dtype=np.uint8)

    def _taken(self) -> Image:
        """Return the picture as it is on the larger screen, brought to its size."""
        import PIL.Image

        self.window.Render()
        image = PIL.Image.fromarray(_read(self.window))
        return np.asarray(image.resize(self.size, PIL.Image.Resampling.BILINEAR), dtype=np.uint8)

    def part_maps(
        self, numbers: Mapping[str, int], layers: Sequence[Collection[str]], *, step: int = 1
    ) -> list[tuple[NDArray[np.int16], NDArray[np.float32]]]:
        """Return which body of each layer each pixel of the picture taken last shows, and how near it is.

        Parameters
        ----------
        numbers : of the bodies, above 0 and below 32,768
        layers : bodies that are looked at together, as if no others were there
        step : pixels of the picture to one that is looked at, each way

        Returns
        -------
        For each layer the body's number or 0, and how far off it is: from 0 near the viewer to 1, where
        nothing is; both (height / step, width / step), rounded up.
        """
        wide, high = (-(-side // step) for side in self.size)
        window = self._numbered
        window.SetSize(wide, high)
        (renderer,) = window.GetRenderers()
        renderer.SetActiveCamera(self.renderer.GetActiveCamera())
        found = []
        for layer in layers:
            alike: dict[object, list[Piece | Lines]] = {}
            for item, _ in self.shown:
                if item.body in layer:
                    sort = item.one_sided if isinstance(item, Piece) else item.width
                    alike.setdefault((type(item), sort), []).append(item)
            renderer.RemoveAllViewProps()
            for own in alike.values():
                key = tuple((id(item), numbers.get(item.body, 0)) for item in own)
                if key not in self._maps:
                    self._maps[key] = _numbered(own, numbers, self._scale / step)
                renderer.AddActor(self._maps[key])
            window.Render()
            found.append(_numbers_shown(window))
        return found

    @cached_property
    def _numbered(self) -> Any:
        return _window((1, 1))

    def close(self) -> None:
        """Give it back."""
        for name in ("window", "_numbered"):
            if name in self.__dict__:
                self.__dict__[name].Finalize()


def opened(size: tuple[int, int], *, samples: float = SAMPLES) -> closing[Screen]:
    """Return a screen, closed at the end."""
    return closing(Screen(size, samples=samples))


def _window(size: tuple[int, int]) -> Any:
    import vtkmodules.vtkRenderingOpenGL2
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

    del vtkmodules  # imported for what it registers
    window: Any = vtkRenderWindow()
    window.SetOffScreenRendering(True)
    window.SetMultiSamples(0)
    window.SetSize(*size)
    window.AddRenderer(vtkRenderer())
    return window


def _read(window: Any) -> Image:
    """Return what a window shows, (height, width, 3)."""
    from vtkmodules.vtkCommonCore import vtkUnsignedCharArray

    (wide, high), content = window.GetSize(), vtkUnsignedCharArray()
    window.GetPixelData(0, 0, wide - 1, high - 1, 0, content, 0)
    return array_of(content).reshape(high, wide, 3)[::-1]


def _numbers_shown(window: Any) -> tuple[NDArray[np.int16], NDArray[np.float32]]:
    """Return which numbers a window shows in their colours, and how near, as ``part_maps`` does."""
    from vtkmodules.vtkCommonCore import vtkFloatArray

    image, content = _read(window), vtkFloatArray()
    high, wide, _ = image.shape
    numbers, depth = np.zeros((high, wide), dtype=np.int16), np.ones((high, wide), dtype=np.float32)
    shown = np.flatnonzero(image.reshape(high, -1).any(axis=1))
    if len(shown):  # of a sump's panes few rows show any
        top, bottom = int(shown[0]), int(shown[-1]) + 1
        for channel in np.moveaxis(image[top:bottom] >> 3, 2, 0):
            numbers[top:bottom] <<= 5
            numbers[top:bottom] |= channel
        window.GetZbufferData(0, high - bottom, wide - 1, high - 1 - top, content)
        depth[top:bottom] = array_of(content).reshape(-1, wide)[::-1]
    return numbers, depth


def _numbered(items: Sequence[Piece | Lines], numbers: Mapping[str, int], scale: float) -> Any:
    """Return one actor of surfaces or lines of one look, each in the colour that tells its number."""
    points = [item.points if isinstance(item, Piece) else item.segments.reshape(-1, 3) for item in items]
    starts = np.cumsum([0, *map(len, points)])
    number = np.repeat([numbers.get(item.body, 0) for item in items], np.diff(starts))
    # five bits a channel, in the middle of their steps: the drawing library rounds colours either way
    colours = np.stack([(number >> shift & 31) * 8 + 4 for shift in (10, 5, 0)], axis=1).astype(np.uint8)
    cells = [
        (item.faces if isinstance(item, Piece) else np.arange(len(own)).reshape(-1, 2)) + start
        for item, own, start in zip(items, points, starts, strict=False)
    ]
    first = items[0]
    actor = _actor(mesh_of(np.concatenate(points), np.concatenate(cells), colours))
    look = actor.GetProperty()
    look.LightingOff()
    if isinstance(first, Piece):
        look.SetBackfaceCulling(first.one_sided)
    else:
        _line_look(actor, first.width * scale)
    return actor


def _actor(mesh: Any) -> Any:
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    mapper, actor = vtkPolyDataMapper(), vtkActor()
    mapper.SetInputData(mesh)
    actor.SetMapper(mapper)
    return actor


def _line_look(actor: Any, width: float) -> None:
    """Let lines be so wide, pixels, and lie over the surface that they are on."""
    actor.GetProperty().SetLineWidth(width)
    actor.GetMapper().SetResolveCoincidentTopologyToPolygonOffset()
    actor.GetMapper().SetRelativeCoincidentTopologyLineOffsetParameters(-3.0, -3.0)


def surface(renderer: Any, piece: Piece) -> Any:
    """Add a surface to a renderer; return its actor."""
    actor = _actor(mesh_of(piece.points, piece.faces, piece.colours if piece.clear else piece.colours[:, :3]))
    look = actor.GetProperty()
    look.SetInterpolationToFlat()
    look.SetLighting(piece.lighted)
    look.SetAmbient(0.58 if piece.lighted else 1.0)
    look.SetDiffuse(0.47 if piece.lighted else 0.0)
    look.SetSpecular(piece.shine)
    look.SetSpecularColor(*SHINE)
    look.SetSpecularPower(piece.gloss)
    look.SetBackfaceCulling(piece.one_sided)
    grain(actor, piece.rough, piece.grain, piece.origin)
    renderer.AddActor(actor)
    return actor


def recolour(actor: Any, colours: Image) -> None:
    """Give the corners of a surface other colours, (n, 3 or 4) of 0 … 255."""
    found = actor.GetMapper().GetInput().GetPointData()
    found.SetScalars(held(colours[:, : found.GetScalars().GetNumberOfComponents()]))


def lines_on(renderer: Any, lines: Lines, scale: float) -> Any:
    """Add lines to a renderer, ``scale`` times as wide as they say; return their actor."""
    points = lines.segments.reshape(-1, 3)
    actor = _actor(mesh_of(points, np.arange(len(points)).reshape(-1, 2)))
    look = actor.GetProperty()
    look.SetColor(*lines.colour)
    look.SetOpacity(lines.opacity)
    look.LightingOff()
    _line_look(actor, lines.width * scale)
    renderer.AddActor(actor)
    return actor


def _sort(shown: Iterable[Shown], renderer: Any, camera: Camera, moved: Mapping[str, Vector]) -> None:
    """Put things in the order that is quick to draw: opaque ones nearest first, then clear ones.

    What lies behind is then not shaded. Clear ones go farthest first, which is far quicker than layer by
    layer: panes and waters are few and stand round each other, so that their middles tell their order.
    """
    order = []
    for item, actor in shown:
        points = item.points if isinstance(item, Piece) else item.segments.reshape(-1, 3)
        clear = item.clear if isinstance(item, Piece) else item.opacity < 1.0
        some = points if clear else points[::MIDDLE_OF]
        middle = some.mean(axis=0, dtype=np.float64) + np.array(moved.get(item.body, (0.0, 0.0, 0.0)))
        far = float(camera.depth(middle)[0])
        # the ground's shadow lies below everything
        order.append((clear, far if not clear else -far if item.body else -np.inf, actor))
    for _, _, actor in order:
        renderer.RemoveActor(actor)
    for _, _, actor in sorted(order, key=lambda one: one[:2]):
        renderer.AddActor(actor)


def use_camera(renderer: Any, camera: Camera) -> None:
    """Point a renderer's camera."""
    own = renderer.GetActiveCamera()
    own.SetPosition(*camera.position)
    own.SetFocalPoint(*camera.focal)
    own.SetViewUp(*camera.up)
    own.SetParallelProjection(camera.parallel)
    own.SetParallelScale(camera.half_height)
    own.SetViewAngle(math.degrees(camera.angle))
    renderer.ResetCameraClippingRange()


@cache
def quick_smoothing() -> str:
    """Return the quickest way to smooth edges that is to be had here: one of two that the library names."""
    from pyvista.plotting.utilities.gl_checks import uses_egl

    return "ssaa" if uses_egl() else "fxaa"
