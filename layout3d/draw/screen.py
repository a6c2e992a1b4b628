"""A stage on a screen that nobody sees: actors, lights, camera, pixels. No text and no marks."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import Camera
from layout3d.draw.grain import grain, grain_shown
from layout3d.draw.pieces import Lines, Piece
from layout3d.draw.stage import Stage
from layout3d.draw.style import PAGE

__all__ = [
    "PEELS",
    "Screen",
    "clear_pixels",
    "lines_on",
    "new_plotter",
    "opened",
    "part_maps",
    "pixels",
    "quick_smoothing",
    "quiet",
    "recolour",
    "set_page",
    "surface",
    "use_camera",
]

Image = NDArray[np.uint8]
PEELS = 12


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


def new_plotter(size: tuple[int, int]) -> Any:
    """Return a plotter that nobody sees, lit and with the page behind (``set_page``)."""
    import pyvista as pv

    plotter: Any = pv.Plotter(off_screen=True, window_size=list(size), lighting="none")
    set_page(plotter)
    return plotter


def set_page(plotter: Any) -> None:
    """Give a plotter without lights the page behind, soft lights, and clear things in their right order."""
    import pyvista as pv

    plotter.set_background(PAGE.bottom, top=PAGE.top)
    plotter.enable_depth_peeling(number_of_peels=PEELS, occlusion_ratio=0.0)
    # over the viewer's left shoulder, from the right, and from above: they turn with the view
    for position, colour, intensity in (
        ((-0.8, 0.9, 1.0), "#fff6e8", 0.66),
        ((1.2, 0.1, 0.7), "#e6eefc", 0.24),
        ((0.0, 1.0, -0.4), "#eef3ff", 0.16),
    ):
        light = pv.Light(position=position, focal_point=(0, 0, 0), color=colour, light_type="camera light")
        light.intensity = intensity
        light.positional = False
        plotter.add_light(light)


class Screen:
    """A screen that nobody sees, for any number of views: what is on it already is not put there again.

    ``shown`` is what is seen of the stage shown last, with its actors.
    """

    def __init__(self, size: tuple[int, int]) -> None:
        self._size = size
        self._on_it: dict[int, tuple[Piece | Lines, Any]] = {}
        self.shown: list[tuple[Piece | Lines, Any]] = []

    @cached_property
    def plotter(self) -> Any:
        """Return the drawing library's plotter, opened at first use."""
        return new_plotter(self._size)

    def show(self, stage: Stage, *, scale: float) -> dict[str, list[Any]]:
        """Show a stage and nothing else; return its actors by body name, '' for the ground's shadow.

        ``scale`` is that of line widths, 1 on a page 1600 pixels wide.
        """
        items: list[Piece | Lines] = [*stage.pieces, *(one for one in stage.lines if len(one.segments))]
        if any(id(item) not in self._on_it for item in items):  # another scene or cut: as if on a new screen
            for _, actor in self._on_it.values():
                self.plotter.remove_actor(actor, reset_camera=False, render=False)
            self._on_it = {
                id(item): (
                    item,
                    surface(self.plotter, item)
                    if isinstance(item, Piece)
                    else lines_on(self.plotter, item, scale),
                )
                for item in items
            }
        for _, actor in self._on_it.values():
            actor.visibility = False
        self.shown = [self._on_it[id(item)] for item in items]
        actors: dict[str, list[Any]] = {}
        for item, actor in self.shown:
            actor.visibility = True
            actors.setdefault(item.body, []).append(actor)
        return actors

    def close(self) -> None:
        """Give it back."""
        if "plotter" in self.__dict__:
            self.plotter.close()


@contextmanager
def opened(size: tuple[int, int]) -> Iterator[Screen]:
    """Return a screen, closed at the end."""
    page = Screen(size)
    try:
        yield page
    finally:
        page.close()


def surface(plotter: Any, piece: Piece) -> Any:
    """Add a surface to a plotter; return its actor."""
    import pyvista as pv

    mesh: Any = pv.PolyData.from_regular_faces(piece.points, piece.faces)  # type: ignore[arg-type] # any integer
    mesh.point_data["colour"] = piece.colours if piece.clear else piece.colours[:, :3]
    mesh.point_data.active_normals = piece.normals
    actor = plotter.add_mesh(
        mesh,
        scalars="colour",
        rgb=True,
        smooth_shading=False,
        show_scalar_bar=False,
        copy_mesh=False,
        lighting=piece.lighted,
        ambient=0.58 if piece.lighted else 1.0,
        diffuse=0.47 if piece.lighted else 0.0,
        specular=piece.shine,
        specular_power=piece.gloss,
        culling="back" if piece.one_sided else False,
        reset_camera=False,
        render=False,
    )
    grain(actor, piece.rough, piece.grain)
    return actor


def recolour(actor: Any, colours: Image) -> None:
    """Give the corners of a surface that is on a plotter other colours, (n, 3 or 4) of 0 … 255."""
    from vtkmodules.util.numpy_support import vtk_to_numpy

    actor.mapper.GetInputAlgorithm().Update()
    held = actor.mapper.GetInput().GetPointData().GetArray("colour")
    own = vtk_to_numpy(held)  # type: ignore[no-untyped-call] # the library's
    own[:] = colours[:, : own.shape[1]]
    held.Modified()


def lines_on(plotter: Any, lines: Lines, scale: float) -> Any:
    """Add lines to a plotter; return their actor. ``scale`` as ``Screen.show`` takes it."""
    import pyvista as pv

    count = len(lines.segments)
    mesh = pv.PolyData(
        np.ascontiguousarray(lines.segments.reshape(-1, 3)),
        lines=np.column_stack([np.full(count, 2), np.arange(2 * count).reshape(-1, 2)]).ravel(),
    )
    actor = plotter.add_mesh(
        mesh,
        color=lines.colour,
        opacity=lines.opacity,
        line_width=lines.width * scale,
        lighting=False,
        reset_camera=False,
        render=False,
    )
    actor.mapper.SetResolveCoincidentTopologyToPolygonOffset()
    actor.mapper.SetRelativeCoincidentTopologyLineOffsetParameters(-3.0, -3.0)
    return actor


def use_camera(plotter: Any, camera: Camera) -> None:
    """Point the plotter's camera."""
    plotter.camera.position = camera.position
    plotter.camera.focal_point = camera.focal
    plotter.camera.up = camera.up
    plotter.camera.parallel_projection = camera.parallel
    plotter.camera.parallel_scale = camera.half_height
    plotter.camera.view_angle = math.degrees(camera.angle)
    plotter.renderer.ResetCameraClippingRange()


def quick_smoothing() -> str:
    """Return the quickest way to smooth edges that is to be had here: one of two that the library names."""
    from pyvista.plotting.utilities.gl_checks import uses_egl

    return "ssaa" if uses_egl() else "fxaa"


def pixels(plotter: Any, *, smooth: bool = True) -> Image:
    """Render and return the picture, (height, width, 3) of 0 … 255."""
    if smooth:
        plotter.enable_anti_aliasing("ssaa")
    else:
        plotter.disable_anti_aliasing()
    plotter.render()
    return np.asarray(plotter.screenshot(return_img=True), dtype=np.uint8)


def clear_pixels(plotter: Any, take: Callable[[Any], Image]) -> Image:
    """Return the picture without the page behind, (height, width, 4) of 0 … 255, colours not multiplied.

    From one picture on black and one on white, as ``take`` takes them: what differs is what shows through.
    """
    shown = []
    for grey in (0.0, 1.0):
        plotter.set_background([grey] * 3, top=[grey] * 3)
        shown.append(take(plotter).astype(np.float32))
    plotter.set_background(PAGE.bottom, top=PAGE.top)
    on_black, on_white = shown
    opacity = 255.0 - np.clip((on_white - on_black).mean(axis=2, keepdims=True), 0.0, 255.0)
    colour = on_black * 255.0 / np.maximum(opacity, 1.0)
    whole = np.concatenate([np.clip(colour, 0.0, 255.0), opacity], axis=2)
    return np.asarray(np.round(whole), dtype=np.uint8)


def part_maps(
    plotter: Any, actors: dict[str, list[Any]], numbers: dict[str, int], layers: Sequence[Collection[str]]
) -> list[tuple[NDArray[np.int32], NDArray[np.float32]]]:
    """Return which body of each layer each pixel shows, and how near it is.

    Parameters
    ----------
    numbers : of the bodies, above 0
    layers : bodies that are looked at together, as if no others were there

    Returns
    -------
    For each layer the body's number or 0, and how far off it is, [m], infinite where nothing is; both
    (height, width).
    """
    kept: list[tuple[str, Any, Any, bool, bool]] = []
    for body, own in actors.items():
        for actor in own:
            visible, scalars = bool(actor.visibility), bool(actor.mapper.GetScalarVisibility())
            kept.append((body, actor, actor.prop, visible, scalars))
            actor.mapper.SetScalarVisibility(False)
            grain_shown(actor, False)
            flat = actor.prop.copy()
            flat.lighting = False
            flat.ambient, flat.diffuse = 1.0, 0.0
            flat.opacity = 1.0
            number = numbers.get(body, 0)
            flat.color = tuple((((number >> shift) & 31) * 8 + 4) / 255.0 for shift in (10, 5, 0))
            actor.prop = flat
    # five bits a channel, in the middle of their steps: the drawing library rounds colours either way
    plotter.set_background([4, 4, 4], top=[4, 4, 4])
    found = []
    for layer in layers:
        for body, actor, _, visible, _ in kept:
            actor.visibility = visible and body in layer
        seen = pixels(plotter, smooth=False).astype(np.int32) >> 3
        depth = -plotter.get_image_depth(fill_value=-np.inf, reset_camera_clipping_range=False)
        shown = (seen[..., 0] << 10) | (seen[..., 1] << 5) | seen[..., 2]
        found.append((np.asarray(shown, dtype=np.int32), depth))
    plotter.set_background(PAGE.bottom, top=PAGE.top)
    for _, actor, prop, visible, scalars in kept:
        actor.prop = prop
        actor.visibility = visible
        actor.mapper.SetScalarVisibility(scalars)
        grain_shown(actor, True)
    return found
