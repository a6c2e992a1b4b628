"""Arrays as the drawing library's meshes, and back. Nothing is copied that need not be."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["array_of", "cells_of", "held", "mesh_of", "nearest_points", "run"]


def held(array: NDArray[Any]) -> Any:
    """Return an array of the library that holds this one, and copies none that is one piece."""
    from vtkmodules.util import numpy_support

    library: Any = numpy_support
    return library.numpy_to_vtk(np.ascontiguousarray(array))


def array_of(values: Any) -> NDArray[Any]:
    """Return what an array of the library holds, not copied."""
    from vtkmodules.util import numpy_support

    library: Any = numpy_support
    return np.asarray(library.vtk_to_numpy(values))


def mesh_of(
    points: NDArray[np.floating], cells: NDArray[np.integer], colours: NDArray[np.uint8] | None = None
) -> Any:
    """Return the library's mesh of triangles or of lines, (m, 3) or (m, 2) cells."""
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    mesh, places, polygons = vtkPolyData(), vtkPoints(), vtkCellArray()
    places.SetData(held(points))
    corners = cells.shape[1]
    polygons.SetData(
        held(np.arange(0, cells.size + 1, corners, dtype=np.int32)), held(cells.astype(np.int32).ravel())
    )
    mesh.SetPoints(places)
    (mesh.SetPolys if corners == 3 else mesh.SetLines)(polygons)
    if colours is not None:
        mesh.GetPointData().SetScalars(held(colours))
    return mesh


def cells_of(polygons: Any, corners: int) -> NDArray[np.int32]:
    """Return the cells of one number of corners that a mesh of the library has, (m, corners)."""
    return array_of(polygons.GetConnectivityArray()).reshape(-1, corners).astype(np.int32)


def run(step: Any, mesh: Any, **settings: Any) -> Any:
    """Return what a step of the library makes of a mesh; ``settings`` by their names there, without 'Set'."""
    for name, value in settings.items():
        getattr(step, f"Set{name}")(value)
    step.SetInputData(mesh)
    step.Update()
    return step.GetOutput()


def nearest_points(points: NDArray[np.floating], among: NDArray[np.floating]) -> NDArray[Any]:
    """Return of one or more others, (k, 3), the one nearest to each point, (n, 3)."""
    # the drawing library's, for scipy's takes longer to load than all of a picture's take to be found
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkPolyData
    from vtkmodules.vtkFiltersPoints import vtkPointInterpolator, vtkVoronoiKernel

    clouds = []
    for rows in (points, among):
        cloud, places = vtkPolyData(), vtkPoints()
        places.SetData(held(rows))
        cloud.SetPoints(places)
        clouds.append(cloud)
    told = held(among)
    told.SetName("place")
    clouds[1].GetPointData().AddArray(told)
    step = vtkPointInterpolator()
    step.SetSourceData(clouds[1])
    found = run(step, clouds[0], Kernel=vtkVoronoiKernel(), PromoteOutputArrays=False)
    return array_of(found.GetPointData().GetArray("place"))
