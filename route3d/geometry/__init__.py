"""Centerlines in space: straights and tangent arcs, exact in length, position and direction."""

from route3d.geometry.fillet import fillet
from route3d.geometry.path import Arc, Corner, Path, Straight
from route3d.geometry.route_path import route_path

__all__ = ["Arc", "Corner", "Path", "Straight", "fillet", "route_path"]
