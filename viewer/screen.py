"""Is there a screen to open a window on?"""

from __future__ import annotations

import ctypes
import ctypes.util
import os
import sys
from pathlib import Path

from route3d.errors import RendererError

_NO_SCREEN = (
    "no screen to open a window on ({}). Without one write a picture with --png FILE, charts with "
    "--svg FILE or a page with --html FILE, or look at the live page of: route3d serve MODEL"
)


def require_screen() -> None:
    """RendererError where no window can be opened: VTK would end the process."""
    if sys.platform != "linux":
        return
    if not os.environ.get("DISPLAY"):
        raise RendererError(_NO_SCREEN.format("DISPLAY is not set"))
    name = ctypes.util.find_library("X11") or "libX11.so.6"
    try:
        library = ctypes.CDLL(name)
    except OSError:
        raise RendererError(_NO_SCREEN.format("libX11 is missing: install libx11-6")) from None
    library.XOpenDisplay.restype = ctypes.c_void_p
    library.XCloseDisplay.argtypes = [ctypes.c_void_p]
    display = library.XOpenDisplay(None)
    if not display:
        said = f"DISPLAY {os.environ['DISPLAY']} does not answer"
        raise RendererError(_NO_SCREEN.format(said))
    library.XCloseDisplay(display)


def free_name(stem: str) -> Path:
    """A file name for a picture in the current folder that no file has yet."""
    safe = "".join(c if c.isalnum() or c in "-_" else "_" for c in stem)[:60]
    return next(p for n in range(1, 1_000_000) if not (p := Path(f"{safe}-{n}.png")).exists())
