"""DXF drawings made by ezdxf alone, the way other people's software makes them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf.math import UCS, Vec3

from route3d.formats.dxf.reading import read_dxf
from route3d.formats.exchange import ImportedRoutes, ReadOptions

Drawer = Callable[[Any], None]
CONDUIT = {"layer": "CONDUIT"}


def read(
    draw: Drawer, folder: Path, *, units: int = 6, options: ReadOptions | None = None
) -> ImportedRoutes:
    """What is read of a drawing made by ezdxf alone."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = units
    draw(doc.modelspace())
    doc.saveas(folder / "drawing.dxf")
    return read_dxf(folder / "drawing.dxf", options or ReadOptions())


def elbow(space: Any, ucs: UCS, *, gap: float = 0.0) -> None:
    """10 m along x, a bend of 90° to y of 2 m radius, 5 m along y, in the plane of a UCS."""
    space.add_line((0, 0), (10, 0), dxfattribs=CONDUIT).transform(ucs.matrix)
    arc = space.add_arc((10, 2 + gap), 2, 270, 360, dxfattribs=CONDUIT)
    arc.transform(ucs.matrix)
    space.add_line((12, 7), (12, 2), dxfattribs=CONDUIT).transform(ucs.matrix)  # backwards


def elbow_vertices(ucs: UCS) -> list[Vec3]:
    return [ucs.to_wcs(Vec3(p)) for p in ((0, 0), (12, 0), (12, 7))]


PLANES = {
    "plan": UCS(),
    "from below": UCS(uz=(0, 0, -1)),
    "wall": UCS(origin=(3, 4, 5), ux=(0, 1, 0), uy=(0, 0, 1)),
    "tilted": UCS(origin=(100, -20, 7), ux=(1, 2, 0.5), uz=(0.3, -0.4, 1)),
    "mirrored": UCS(origin=(1, 1, 1), ux=(-1, 0.2, 0), uz=(0.001, 0.01, -1)),
}

HEAD, TAIL = "0\nSECTION\n2\nENTITIES\n", "0\nENDSEC\n0\nEOF\n"


def line(*numbers: object) -> str:
    """A LINE of layer A in the oldest form of DXF."""
    codes = (10, 20, 30, 11, 21, 31)
    body = "".join(f"{c}\n{n}\n" for c, n in zip(codes, numbers, strict=True))
    return f"0\nLINE\n8\nA\n{body}"


LINE = HEAD + line(0, 0, 0, 9, 0, 0) + TAIL
