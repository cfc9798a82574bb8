"""Small vector functions; arrays are ``(..., 3)`` in meters or unit vectors, angles in rad."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def norm(v: Floats) -> Floats:
    """Length of each vector, ``(..., 3) -> (...)``.

    Parameters
    ----------
    v : ndarray, shape (..., 3)
        Vectors in any unit.

    Returns
    -------
    ndarray, shape (...)
    """
    length: Floats = np.sqrt(np.einsum("...i,...i->...", v, v))
    return length


def unit(v: Floats) -> Floats:
    """Each vector divided by its length; the caller keeps zero vectors out.

    Parameters
    ----------
    v : ndarray, shape (..., 3)
        Vectors in any unit.

    Returns
    -------
    ndarray, shape (..., 3)
    """
    return v / norm(v)[..., None]


def angle_between(a: Floats, b: Floats) -> Floats:
    """Angle between unit vectors, ``(..., 3)`` each, in [0, pi].

    The half-angle form 2 atan2(|a - b|, |a + b|) keeps full precision for nearly straight and
    nearly opposite directions, where arccos of the dot product loses half the digits (W. Kahan,
    "How Futile are Mindless Assessments of Roundoff", section 12; from memory).

    Parameters
    ----------
    a, b : ndarray, shape (..., 3)
        Unit vectors.

    Returns
    -------
    ndarray, shape (...)
        rad
    """
    return 2.0 * np.arctan2(norm(a - b), norm(a + b))


def frozen(values: object) -> Floats:
    """A read-only float copy, for keeping in a frozen record.

    Parameters
    ----------
    values : array_like
        Numbers.

    Returns
    -------
    ndarray of float
        Read-only.
    """
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def distinct(values: object) -> Floats:
    """The different values, sorted; ``np.unique`` does so too, but first loads masked arrays.

    Parameters
    ----------
    values : array_like
        Numbers of any shape.

    Returns
    -------
    ndarray of float
        (n,), from the least.
    """
    found: Floats = np.sort(np.asarray(values, dtype=np.float64), axis=None)
    if not found.size:
        return found
    first: Floats = found[np.append(True, found[1:] != found[:-1])]
    return first
