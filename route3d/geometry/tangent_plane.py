"""The plane that touches the Earth at an anchor: degrees on WGS 84 as m east and north, and back.

Lengths in it are true to a few millimeters within kilometers, so a site given in degrees is modeled
in it. Its name says its anchor, so that the next file in degrees lands beside the first.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from route3d.geometry.utm import AXIS, FLATTENING
from route3d.geometry.vectors import Floats

_KIND = "WGS 84 tangent plane at"
_NUMBER = r"([+-]?\d{1,3}(?:\.\d+)?)"
_NAME = re.compile(rf"{_KIND} {_NUMBER}, ?{_NUMBER}")
_SQUARE = FLATTENING * (2 - FLATTENING)  # of the eccentricity
# Steps to degrees end where the place is met this closely, m: places on Earth are rounded by 1e-9.
_MET = 1e-8


@dataclass(frozen=True, slots=True)
class TangentPlane:
    """The plane that touches WGS 84 at ``longitude`` and ``latitude``, degrees, at altitude 0."""

    longitude: float
    latitude: float

    @property
    def name(self) -> str:
        """What a job has as ``crs``: the same numbers again when it is read."""
        told = (np.format_float_positional(c, trim="-") for c in (self.longitude, self.latitude))
        return f"{_KIND} {', '.join(told)}"


def names_plane(crs: str) -> bool:
    """Whether a name of a grid is meant as that of a tangent plane, well written or not.

    Parameters
    ----------
    crs : str
        Name of a grid.

    Returns
    -------
    bool
    """
    return crs.startswith(_KIND)


def plane_of(crs: str) -> TangentPlane | None:
    """The plane that a name such as ``WGS 84 tangent plane at -122.34, 47.6`` means, else None.

    Parameters
    ----------
    crs : str
        Name of a grid; longitude (east) first, then latitude (north), degrees.

    Returns
    -------
    TangentPlane or None
        None for all other names, and where the numbers are no place on Earth.
    """
    found = _NAME.fullmatch(crs.strip())
    if found is None or abs(float(found[1])) > 180 or abs(float(found[2])) > 90:
        return None
    return TangentPlane(float(found[1]), float(found[2]))


def to_plane(degrees: Floats, plane: TangentPlane) -> Floats:
    """Degrees as m east and north of the anchor; the altitude stays, as levels are used.

    Geodetic to geocentric to topocentric (OGP Guidance Note 7-2, sections 2.2.1 and 2.2.2; from
    memory).

    Parameters
    ----------
    degrees : ndarray, shape (n, 3)
        Longitude and latitude, degrees, and altitude, m.
    plane : TangentPlane
        The plane.

    Returns
    -------
    ndarray, shape (n, 3)
        East, north and altitude, m.
    """
    away = _geocentric(degrees) - _geocentric(np.array([[plane.longitude, plane.latitude, 0.0]]))
    lon, lat = math.radians(plane.longitude), math.radians(plane.latitude)
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    north = np.array([-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)])
    return np.stack((away @ east, away @ north, degrees[:, 2]), axis=1)


def to_degrees(points: Floats, plane: TangentPlane) -> Floats:
    """The inverse of ``to_plane``, by steps along the meridian and parallel through each place.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        East, north and altitude, m.
    plane : TangentPlane
        The plane.

    Returns
    -------
    ndarray, shape (n, 3)
        Longitude and latitude, degrees, and altitude, m.

    Raises
    ------
    ValueError
        Where no steps lead there: beside a pole, or beyond the horizon.
    """
    found = np.column_stack(
        (np.tile((plane.longitude, plane.latitude), (len(points), 1)), points[:, 2])
    )
    for _ in range(40):
        off = (points - to_plane(found, plane))[:, :2]
        if np.abs(off).max(initial=0.0) <= _MET:
            return found
        lat = np.radians(found[:, 1])
        root = np.sqrt(1 - _SQUARE * np.sin(lat) ** 2)
        parallel = (AXIS / root + points[:, 2]) * np.cos(lat)
        meridian = AXIS * (1 - _SQUARE) / root**3 + points[:, 2]
        found[:, 0] += np.degrees(off[:, 0] / parallel)
        found[:, 1] = np.clip(found[:, 1] + np.degrees(off[:, 1] / meridian), -90, 90)
    raise ValueError("these places are beyond the horizon of the plane")


def _geocentric(degrees: Floats) -> Floats:
    lon, lat = np.radians(degrees[:, 0]), np.radians(degrees[:, 1])
    normal = AXIS / np.sqrt(1 - _SQUARE * np.sin(lat) ** 2)
    out = (normal + degrees[:, 2]) * np.cos(lat)
    up = (normal * (1 - _SQUARE) + degrees[:, 2]) * np.sin(lat)
    return np.stack((out * np.cos(lon), out * np.sin(lon), up), axis=1)
