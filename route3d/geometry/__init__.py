"""Centerlines in space: straights and tangent arcs, exact in length, position and direction."""

from route3d.geometry.fillet import fillet, route_path
from route3d.geometry.path import Arc, Corner, Path, Straight

__all__ = ["Arc", "Corner", "Path", "Straight", "fillet", "route_path"]
