"""Which route3d answers: its version and a mark of its code, the same on every machine."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

import route3d


@cache
def program() -> str:
    """Such as ``route3d 0.1.0, code 3fa2b1c4``: the mark tells changes within a version apart."""
    folder = Path(route3d.__file__).parent
    whole = hashlib.sha256()
    for file in sorted(folder.rglob("*.py")):
        # line ends are those of the system it was installed on
        code = file.read_bytes().replace(b"\r\n", b"\n")
        whole.update(f"{file.relative_to(folder).as_posix()} {len(code)}\n".encode() + code)
    return f"route3d {route3d.__version__}, code {whole.hexdigest()[:8]}"
