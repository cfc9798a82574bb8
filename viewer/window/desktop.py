"""The desktop window: ``open_window``."""

from __future__ import annotations

import ctypes
import ctypes.util
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from route3d.disk import write_bytes_atomic
from route3d.drawing.marks import Marks
from route3d.drawing.pixels import measure, painted
from route3d.errors import RendererError, Route3dError
from route3d.model.job import Job
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.result import RunResult
from viewer.camera import Camera, camera_for
from viewer.meshes import Part, scene_parts, through_walls
from viewer.moving import head_mesh, head_place, moving_tubes, show_head, show_values
from viewer.playback import Playback
from viewer.renderer import aim, fill
from viewer.scene.build import candidate_of
from viewer.scene.reading import reading
from viewer.scene.records import Coloring, Scene
from viewer.still.layout import Layout, arrange_with
from viewer.still.panels import SMALLEST, Panels, panels_for
from viewer.still.picture import png_of
from viewer.theme import Theme, rgb, theme_named
from viewer.window.content import PLACES, Plans, content_of, title_of
from viewer.window.panels import (
    CornerCards,
    StripChart,
    add_slider,
    cards,
    slider_ends,
    strip_chart,
    strip_height,
    strip_items,
)
from viewer.window.pick import (
    UnrolledView,
    camera_now,
    profile_layout,
    station_across,
    station_under,
)
from viewer.window.state import LAYER_OF, WindowState, WindowView, moved, next_run, pressed

if TYPE_CHECKING:
    import pyvista as pv
    from PIL.Image import Image
    from vtkmodules.vtkRenderingCore import vtkActor2D

# --- is there a screen to open a window on? -------------------------------------------------

_NO_SCREEN = (
    "no display for a window ({}). Without a display, --png FILE writes a picture, --svg FILE "
    "charts and --html FILE a page; route3d serve MODEL opens the live page"
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
        said = f"DISPLAY {os.environ['DISPLAY']} does not respond"
        raise RendererError(_NO_SCREEN.format(said))
    library.XCloseDisplay(display)


def free_name(stem: str) -> Path:
    """A file name for a picture in the current folder that no file has yet."""
    safe = "".join(c if c.isalnum() or c in "-_" else "_" for c in stem)[:60]
    return next(p for n in range(1, 1_000_000) if not (p := Path(f"{safe}-{n}.png")).exists())


# --- the desktop window: ``open_window`` ----------------------------------------------------

_STILL = 4  # pixels the mouse may slip between press and release of a click
_TICK = 80  # milliseconds between two steps of the playing pull
_PLAY_STEPS = 120
_TIMES = 2  # a flat picture is drawn so many times larger, for smooth edges


def open_window(
    results: tuple[RunResult, ...],
    job: Job,
    *,
    size: tuple[int, int] = (1280, 800),
    units: str = "US",
    view: WindowView = "isometric",
    theme: str = "light",
    color_by: Coloring = "tension",
    feed: int | str | None = None,
    exaggeration: float | None = None,
) -> None:
    """Show runs in a window, the first of them at once, until it is closed.

    Raises RendererError where there is no screen, ValueError for an unknown option.
    """
    require_screen()
    state = WindowState(
        candidate_of(results[0], feed).pull.feed, units, color_by, theme, view, exaggeration
    )
    window = _Window(results, job, state, size)
    window.plotter.show(title="route3d", auto_close=False)
    window.plotter.close()
    if window.failed is not None:
        raise window.failed


class _Window:
    """A plotter and what it shows now; everything else is calculated from ``state``."""

    def __init__(
        self, results: tuple[RunResult, ...], job: Job, state: WindowState, size: tuple[int, int]
    ) -> None:
        import pyvista as pv

        self.results, self.job, self.state = results, job, state
        self.failed: Exception | None = None
        self.places: dict[tuple[int, int], PlacementSearch | None] = {}
        self.plans = Plans()
        self.plotter: Any = pv.Plotter(off_screen=False, window_size=list(size), lighting="none")
        self.actors: list[tuple[str, Any]] = []
        self.press: tuple[int, int] | None = None
        self.orbiting = self.looked = self.running = False
        self.size = size
        self.plotter.enable_anti_aliasing("msaa", multi_samples=8)
        self.over = flat_actor(self.plotter)
        self.strip = flat_actor(self.plotter)
        self.slider: Any = None
        self._build()
        self._aim()
        self._paint()
        self._listen()

    @property
    def theme(self) -> Theme:
        return theme_named(self.state.theme)

    @property
    def result(self) -> RunResult:
        return self.results[self.state.run]

    @property
    def scene(self) -> Scene:
        return self.shown.scene

    @property
    def frames(self) -> Playback:
        return self.shown.frames

    def _cards(self) -> CornerCards | None:
        several = len(self.results) > 1
        keys = self.state.help
        return cards(self._panels(), self.theme, measure, keys, several, self.shown.stops)

    def _build(self) -> None:
        """Scene, meshes and slider for the state."""
        self.shown = content_of(self.result, self.job, self.state, self.places, self.plans)
        self.tubes = moving_tubes(self.scene, self.theme)
        self.head = head_mesh(self.scene)
        self.head_points = np.array(self.head.points)
        self.parts: tuple[Part, ...] = through_walls(
            (
                *(Part("tube", t.mesh, smooth=True) for t in self.tubes),
                *(p for p in scene_parts(self.scene, self.theme) if p.name != "tube"),
                Part("head", self.head, self.theme.ink, smooth=True),
            )
        )
        for _, actor in self.actors:
            self.plotter.renderer.RemoveActor(actor)
        drawn = fill(self.plotter.renderer, self.parts, self.theme)
        self.actors = [(p.name, actor) for p, actor in zip(self.parts, drawn, strict=True)]
        self._make_slider()
        self._show_pull()
        self._show_layers()

    def _panels(self) -> Panels:
        strip = strip_height(self.size, profile=self.state.view == "profile")
        return panels_for(self.scene, self.size, self.theme, measure, strip=strip)

    def _aim(self) -> None:
        if self.state.view == "profile":
            return
        self.looked = False
        panels = self._panels()
        room, frame = panels.room, panels.frame
        beside = self._cards()
        if beside is not None:  # the route beside the cards, not under them
            left = beside.rect[2]
            room, frame = (left, *room[1:]), (left, *frame[1:])
        camera = camera_for(self.scene, self.state.view, self.size, room, frame)
        aim(self.plotter.renderer, camera, self.parts)
        seen = self.plotter.renderer.camera
        seen.is_set = True
        seen.parallel_projection = True  # its own note of it, which the mouse wheel asks

    def _camera(self) -> Camera:
        return camera_now(self.plotter, self.size)

    def _show_layers(self) -> None:
        flat = self.state.view == "profile"
        for name, actor in self.actors:
            hidden = LAYER_OF.get(name) in self.state.hidden
            still = self.state.pulled is None
            unused = (name == "head" and still) or (name == "arrow" and not still)
            actor.SetVisibility(not (flat or hidden or unused))

    def _place(self) -> int:
        pulled = 1.0 if self.state.pulled is None else self.state.pulled
        return round(pulled * (PLACES - 1))

    def _show_pull(self) -> None:
        """Tubes, marker and slider for where the head is."""
        if self.state.pulled is None:
            show_values(self.tubes)
        else:
            head = float(self.frames.station[self._place()])
            show_head(self.tubes, head, self.frames.reverse, self.theme)
            self.head.points = self.head_points + head_place(self.scene, head)
        share = 1.0 if self.state.pulled is None else self.state.pulled
        if self.slider is not None:
            self.slider.GetRepresentation().SetValue(100 * share)

    def _paint(self) -> None:
        """Everything flat, and the picture."""
        if self.size[0] < SMALLEST[0] or self.size[1] < SMALLEST[1]:
            self.over.SetVisibility(False)
            self.strip.SetVisibility(False)
            return
        self.over.SetVisibility(True)
        self.strip.SetVisibility(True)
        flat = self.state.view == "profile"
        layout = self._layout()
        beside = self._cards()
        items = (*layout.overlay, *(() if beside is None else beside.items))
        picture = painted_over(items, self.size, self.theme, opaque=flat)
        set_picture(self.over, picture)
        self._paint_strip()
        self._title()
        self.plotter.render()

    def _layout(self) -> Layout:
        scene, state = self.scene, self.state
        if state.view == "profile":
            return profile_layout(self._profile(), state.picked)
        labels = () if "labels" in state.hidden else scene.labels
        if state.picked is not None:
            labels = (reading(scene, state.picked), *labels)
        shown = replace(scene, labels=labels)
        panels = self._panels()
        beside = self._cards()
        free = None if beside is None else beside.rect
        placed = bool(labels) and not self.orbiting
        return arrange_with(
            shown, self._camera(), panels, self.theme, measure, free=free, labels=placed
        )

    def _profile(self) -> UnrolledView:
        beside = self._cards()
        left = 0.0 if beside is None else beside.rect[2]
        return UnrolledView(self.scene, self.size, self.theme, left)

    def _paint_strip(self) -> None:
        """The figures of the pull, which change with every step of the head."""
        panels = self._panels()
        _, top, _, bottom = panels.strip
        size = (self.size[0], max(1, round(bottom - top)))
        at, unit = self._place(), panels.unit
        items = strip_items(self.state, self.frames, at, size, unit, self.theme, self.chart)
        picture = painted_over(items, size, self.theme, opaque=True)
        set_picture(self.strip, picture, (0, self.size[1] - round(top) - size[1]))

    def _title(self) -> None:
        """What is shown, in the title: for who looks at a row of windows, and for tests."""
        if self.running:
            words = title_of(self.result.run.name, self.shown, self.state, self._place())
            self.plotter.render_window.SetWindowName(words)

    def _listen(self) -> None:
        interactor = self.plotter.iren
        self.plotter.enable_terrain_style(mouse_wheel_zooms=True, shift_pans=True)
        self.plotter.reset_key_events()
        style = interactor.interactor.GetInteractorStyle()
        style.AddObserver("CharEvent", lambda *_: None)  # VTK's own keys: wireframe, stereo, ...
        style.AddObserver("StartInteractionEvent", self._safe(lambda: self._orbit(True)))
        style.AddObserver("EndInteractionEvent", self._safe(lambda: self._orbit(False)))
        interactor.add_observer("KeyPressEvent", self._safe(self._key))
        interactor.add_observer("LeftButtonPressEvent", self._safe(self._down))
        interactor.add_observer("LeftButtonReleaseEvent", self._safe(self._up))
        interactor.add_observer("TimerEvent", self._safe(self._tick))
        for event in ("MouseWheelForwardEvent", "MouseWheelBackwardEvent"):
            interactor.interactor.AddObserver(event, self._safe(self._zoomed), -1.0)
        self.plotter.render_window.AddObserver("WindowResizeEvent", self._safe(self._resized))
        interactor.initialize()
        interactor.interactor.CreateRepeatingTimer(_TICK)

    def _safe(self, call: Callable[[], None]) -> Callable[..., None]:
        """A callback whose error ends the window and is raised by ``open_window``."""

        def called(*_: object) -> None:
            if self.failed is not None:
                return
            try:
                call()
            except Exception as error:
                self.failed = error
                self.plotter.iren.terminate_app()

        return called

    def change(self, new: WindowState) -> None:
        """Show another state."""
        old, self.state = self.state, new
        built = ("run", "feed", "units", "color_by", "theme", "exaggeration")
        if any(getattr(old, name) != getattr(new, name) for name in built):
            self._build()
        elif old.pulled != new.pulled:
            self._show_pull()
        self._show_layers()
        if old.turn != new.turn:
            self._make_slider()  # the profile leaves another room for it
            self._show_pull()
            self._aim()
        only_pull = replace(old, pulled=new.pulled, playing=new.playing) == new
        if only_pull and old.pulled is not None and new.pulled is not None:
            self._paint_strip()
            self._title()
            self.plotter.render()
        else:
            self._paint()

    def _key(self) -> None:
        key = self.plotter.iren.interactor.GetKeySym() or ""
        if key.lower() == "q":
            self.plotter.iren.terminate_app()
        elif key.lower() == "s":
            self._save()
        elif key.lower() == "n" and len(self.results) > 1:
            self.change(next_run(self.state, [r.best.pull.feed for r in self.results]))
        else:
            ends = [c.pull.feed for c in self.result.candidates]
            new = pressed(self.state, key, next(e for e in ends if e != self.state.feed))
            if new != self.state:
                self.change(new)

    def _orbit(self, begins: bool) -> None:
        if self.orbiting != begins and self.state.view != "profile":
            self.orbiting, self.looked = begins, True
            self._paint()

    def _zoomed(self) -> None:
        self.looked = True
        self._paint()

    def _down(self) -> None:
        self.press = self._mouse()

    def _up(self) -> None:
        press, self.press = self.press, None
        at = self._mouse()
        if press is None or max(abs(a - b) for a, b in zip(at, press, strict=True)) > _STILL:
            return
        where = (float(at[0]), float(self.size[1] - 1 - at[1]))
        if self.state.view == "profile":
            picked = station_across(self._profile(), where)
        else:
            picked = station_under(self.scene, self._camera(), where)
        if picked is not None:
            print("; ".join(reading(self.scene, picked).lines), file=sys.stderr)
        if picked != self.state.picked:
            self.change(replace(self.state, picked=picked))

    def _mouse(self) -> tuple[int, int]:
        x, y = self.plotter.iren.interactor.GetEventPosition()
        return int(x), int(y)

    def _tick(self) -> None:
        if not self.running:  # keys are heard from now on
            self.running = True
            self._title()
        if self.plans.came():
            self._build()
            self._paint()
        if self.state.playing:
            further = moved(self.state, 1 / _PLAY_STEPS)
            self.change(replace(further, playing=(further.pulled or 0.0) < 1.0))

    def _resized(self) -> None:
        size = tuple(self.plotter.render_window.GetSize())
        if size != self.size and min(size) > 0:
            self.size = (int(size[0]), int(size[1]))
            if not self.looked and min(self.size) >= SMALLEST[1]:
                self._aim()
            self._make_slider()
            self._show_pull()
            self._paint()

    def _save(self) -> None:
        """The window as a picture beside where the program was started, under a free name."""
        image = np.asarray(self.plotter.screenshot(return_img=True))
        path = free_name(self.result.run.name)
        try:
            write_bytes_atomic(path, png_of(image))
            print(f"wrote {path}", file=sys.stderr)
        except Route3dError as error:
            print(error, file=sys.stderr)

    def _make_slider(self) -> None:
        if self.slider is not None:
            self.slider.Off()
            self.plotter.clear_slider_widgets()
        self.slider = None
        panels, limit = self._panels(), self.scene.limits[0]
        self.chart: StripChart | None = strip_chart(
            self.shown.whole, panels, self.size, self.state.units, limit, self.theme
        )
        ends = slider_ends(panels, self.size)
        self.slider = add_slider(self.plotter, ends, self.theme, self._slid)

    def _slid(self, value: float) -> None:
        if self.slider is None:  # VTK calls once while the slider is made
            return
        share = min(1.0, max(0.0, value / 100))
        self._safe(lambda: self.change(replace(self.state, pulled=share, playing=False)))()


# --- a flat picture over the 3D window: painted anew when something changes -------------------


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
