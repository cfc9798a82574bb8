"""A flat picture over a 3D window: the overlay of a still, painted anew when something changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.marks import Marks
from route3d.drawing.pixels import painted
from viewer.theme import Theme, rgb

if TYPE_CHECKING:
    import pyvista as pv
    from PIL.Image import Image
    from vtkmodules.vtkRenderingCore import vtkActor2D

_TIMES = 2


def painted_over(overlay: Marks, size: tuple[int, int], theme: Theme, *, opaque: bool) -> Image:
    """An overlay alone, see-through between its items unless ``opaque``."""
    from PIL import Image as Images

    # See-through, but of the ground's color: edges of letters fade into it and not into black.
    ground = (*rgb(theme.ground), 255 if opaque else 0)
    blank = Images.new("RGBA", (size[0] * _TIMES, size[1] * _TIMES), ground)
    return painted(blank, overlay, _TIMES)


def flat_actor(plotter: pv.Plotter) -> vtkActor2D:
    """An empty picture over a plotter's window; ``set_picture`` fills it."""
    from vtkmodules.vtkRenderingCore import vtkPolyDataMapper2D, vtkTexture, vtkTexturedActor2D

    actor, mapper, texture = vtkTexturedActor2D(), vtkPolyDataMapper2D(), vtkTexture()
    texture.InterpolateOff()
    actor.SetTexture(texture)
    actor.SetMapper(mapper)
    plotter.renderer.AddViewProp(actor)
    return actor


def set_picture(actor: vtkActor2D, image: Image, at: tuple[int, int] = (0, 0)) -> None:
    """Show an RGBA image with its bottom left corner ``at`` pixels from that of the window."""
    import pyvista as pv

    pixels = np.ascontiguousarray(np.asarray(image)[::-1])
    high, wide = pixels.shape[:2]
    data = pv.ImageData(dimensions=(wide, high, 1))
    data.point_data["rgba"] = pixels.reshape(-1, 4)
    data.point_data.SetActiveScalars("rgba")
    corners = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], dtype=np.float64)
    placed = np.column_stack((corners + np.array(at), np.zeros(4)))
    plane = pv.PolyData(placed, np.array([4, 0, 1, 2, 3]))
    plane.active_texture_coordinates = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=np.float64)
    actor.GetTexture().SetInputData(data)  # type: ignore[attr-defined]
    actor.GetMapper().SetInputData(plane)  # type: ignore[attr-defined]
