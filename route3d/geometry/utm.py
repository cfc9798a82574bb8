"""Degrees on WGS 84 to a zone of UTM (Universal Transverse Mercator) and the scale there."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats

# WGS 84: semi-major axis, m, and flattening (NGA.STND.0036, table 3.1; from memory).
AXIS, FLATTENING = 6_378_137.0, 1 / 298.257223563
# UTM: scale on the central meridian, false easting and southern false northing, m (from memory).
CENTRAL_SCALE, FALSE_EASTING, FALSE_NORTHING = 0.9996, 500_000.0, 10_000_000.0


@dataclass(frozen=True, slots=True)
class Zone:
    """Zone ``number`` 1 to 60 of UTM, north or south of the equator."""

    number: int
    south: bool

    @property
    def meridian(self) -> float:
        """The central meridian, rad."""
        return math.radians(6 * self.number - 183)


def zone_of(crs: str) -> Zone | None:
    """The zone that a name such as ``EPSG:32610`` means, None for any other grid.

    Codes 32601 to 32660 are the northern zones on WGS 84, 32701 to 32760 the southern ones
    (from memory).

    Parameters
    ----------
    crs : str
        Name of a grid.

    Returns
    -------
    Zone or None
        The zone.
    """
    code = re.search(r"EPSG:+(?:\d*:)?32([67])(\d\d)$", crs.strip())
    if code is None or not 1 <= int(code[2]) <= 60:
        return None
    return Zone(int(code[2]), code[1] == "7")


def zone_at(degrees: Floats) -> str:
    """The name of the zone of a place, without the exceptions of Norway and Svalbard.

    Parameters
    ----------
    degrees : ndarray, shape (2,) or (3,)
        Longitude and latitude, degrees.

    Returns
    -------
    str
        Such as ``EPSG:32610``.
    """
    number = min(int((degrees[0] + 180) // 6) + 1, 60)
    return f"EPSG:32{7 if degrees[1] < 0 else 6}{number:02d}"


def to_grid(degrees: Floats, zone: Zone) -> Floats:
    """Degrees as easting and northing of a zone; the altitude stays.

    Krüger's series in n = f/(2 - f) to n⁴ (Krüger, Konforme Abbildung des Erdellipsoids in der
    Ebene, 1912; as in OGP Guidance Note 7-2, transverse Mercator; from memory): below 0.1 mm within
    1000 km of the central meridian.

    Parameters
    ----------
    degrees : ndarray, shape (n, 3)
        Longitude and latitude in degrees, altitude in m.
    zone : Zone
        The zone.

    Returns
    -------
    ndarray, shape (n, 3)
        Easting, northing, altitude, m.
    """
    longitude, latitude = np.radians(degrees[:, 0]) - zone.meridian, np.radians(degrees[:, 1])
    n = FLATTENING / (2 - FLATTENING)
    e = math.sqrt(FLATTENING * (2 - FLATTENING))
    # the conformal latitude, on the sphere
    sine = np.sin(latitude)
    t = np.sinh(np.arctanh(sine) - e * np.arctanh(e * sine))
    along = np.arctan2(t, np.cos(longitude))
    across = np.arcsinh(np.sin(longitude) / np.hypot(t, np.cos(longitude)))
    radius = AXIS / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    terms = (
        n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16 + 41 * n**4 / 180,
        13 * n**2 / 48 - 3 * n**3 / 5 + 557 * n**4 / 1440,
        61 * n**3 / 240 - 103 * n**4 / 140,
        49561 * n**4 / 161280,
    )
    north, east = along.copy(), across.copy()
    for j, term in enumerate(terms, 1):
        north += term * np.sin(2 * j * along) * np.cosh(2 * j * across)
        east += term * np.cos(2 * j * along) * np.sinh(2 * j * across)
    k = CENTRAL_SCALE * radius
    south = FALSE_NORTHING if zone.south else 0.0
    return np.stack((FALSE_EASTING + k * east, south + k * north, degrees[:, 2]), axis=1)


def scale(place: Floats, zone: Zone) -> float:
    """Grid length over length on the ellipsoid at a place, by a step of 1e-4 degrees north.

    Parameters
    ----------
    place : ndarray, shape (1, 3)
        Longitude and latitude in degrees, altitude in m.
    zone : Zone
        The zone.

    Returns
    -------
    float
        The scale.
    """
    step = np.array([0.0, 5e-5, 0.0])
    ends = to_grid(np.vstack((place - step, place + step)), zone)
    sine = math.sin(math.radians(float(place[0, 1])))
    square = FLATTENING * (2 - FLATTENING)
    meridian = AXIS * (1 - square) / (1 - square * sine**2) ** 1.5
    return float(np.hypot(*(ends[1] - ends[0])[:2]) / (meridian * math.radians(1e-4)))
