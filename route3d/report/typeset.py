"""PDF by typst from a template of this folder and plain data: no browser, same bytes twice."""

from __future__ import annotations

import json
from importlib import resources
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from route3d.directions import all_isolated


def typeset(template: str, data: dict[str, Any]) -> bytes:
    """The PDF of a template; ``data`` reaches it as JSON, so that no text in it is markup."""
    import typst

    source = (resources.files(__package__) / template).read_bytes()
    text = json.dumps(all_isolated(data), allow_nan=False)
    fonts = typst.Fonts(include_system_fonts=False, font_paths=font_folders())
    pdf: bytes = typst.compile(source, sys_inputs={"data": text}, font_paths=fonts)
    return pdf


def font_folders() -> list[str]:
    """Where DejaVu Sans is: matplotlib, which pyvista needs, brings it; system fonts may differ."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        return []
    return [str(Path(found.origin).parent / "mpl-data" / "fonts" / "ttf")]
