"""The picture of the page: the route in 3D, words and scale over it, its profile, and the pull."""

from __future__ import annotations

from trame.widgets import html, vtk
from trame.widgets import vuetify3 as vuetify
from trame_client.widgets.core import AbstractElement

from viewer.page.attributes import spoken

# One finger or the left button turns, two fingers or the right button move and zoom.
_GESTURES = [
    {"button": 1, "action": "Rotate"},
    {"button": 2, "action": "Pan"},
    {"button": 3, "action": "Pan"},
    {"button": 3, "action": "Zoom", "scrollEnabled": True, "dragEnabled": False},
    {"button": 1, "action": "Pan", "shift": True},
]
_LOOKS = (
    ("iso", "Isometric", "from above, from the south-west"),
    ("plan", "Plan", "from above, north up"),
    ("south", "From south", "toward north, east on the right"),
    ("east", "From east", "toward west, north on the right"),
    ("profile", "Profile", "elevation, tension and sidewall pressure by station"),
)
_ROOMY = ("south", "east")  # left out on a phone: a finger turns the picture
_COLOUR_BY = (
    ("tension", "Tension"),
    ("sidewall", "Sidewall pressure"),
    ("utilisation", "Share of limit"),
    ("conduit", "Conduit"),
)


def picture() -> None:
    """Beside the tables."""
    with html.Section(classes="r3-picture", **spoken(aria_label="3D picture")):
        with html.Div(classes="r3-tools"):
            vuetify.VSelect(
                v_model=("colour_by", "tension"),
                items=("colour_choices", [{"value": v, "title": t} for v, t in _COLOUR_BY]),
                label="Color by",
                density="compact",
                hide_details=True,
                variant="outlined",
                classes="r3-colour-by",
            )
            with vuetify.VBtnToggle(
                v_model=("looking", "iso"),
                density="comfortable",
                divided=True,
                variant="outlined",
                **spoken(aria_label="look from"),
                mandatory=True,
            ):
                for value, name, more in _LOOKS:
                    vuetify.VBtn(
                        name,
                        value=value,
                        title=more,
                        classes="px-2 d-none d-sm-flex" if value in _ROOMY else "px-2",
                        click=f"window.trame.utils.route3d.aim('{value}')",
                    )
            vuetify.VProgressCircular(
                v_if="working", indeterminate=True, size=26, width=3, **spoken(aria_label="working")
            )
            html.Span("{{ working && working[units] }}", v_if="working", id="working")
        with html.Div(classes="r3-view", id="view3d"):
            _view()
            _overlay()
            html.Div(
                v_if="looking === 'profile'",
                v_html=("unrolled || 'Being drawn.'",),
                classes="r3-unrolled",
                id="unrolled",
            )
        _pull()
        _legend()


def _view() -> None:
    with vtk.VtkView(
        ref="view3d",
        background=("[0.969, 0.973, 0.98]",),
        interactor_settings=("gestures", _GESTURES),
        interactor_events=("['Animation', 'EndAnimation']",),
        resize="window.trame.utils.route3d.resized()",
        Animation="window.trame.utils.route3d.painted()",
        EndAnimation="window.trame.utils.route3d.painted()",
        __properties=[("interactor_settings", "interactorSettings")],
    ):
        with vtk.VtkGeometryRepresentation(
            id="tube",
            mapper=("{ scalarVisibility: true, scalarMode: 3, colorByArrayName: colour_by }",),
            property=("{ ambient: 0.42, diffuse: 0.6, specular: 0, interpolation: 1 }",),
        ):
            vtk.VtkMesh(
                "tube",
                state=("{ mesh: tube.mesh, pointArrays: [tube.normals, ...colours] }",),
            )
        with vtk.VtkGeometryRepresentation(
            v_for="(solid, i) in solids",
            key="solid.name + i",
            property=(
                "{ color: dark ? solid.dark : solid.light, opacity: solid.opacity, "
                "lineWidth: solid.width, lighting: solid.lit, frontfaceCulling: solid.hollow, "
                "ambient: solid.lit ? 0.45 : 1, diffuse: solid.lit ? 0.6 : 0, specular: 0 }",
            ),
            actor=("{ pickable: false }",),
        ):
            vtk.VtkMesh("solid", state=("{ mesh: solid.mesh }",))
        with vtk.VtkGeometryRepresentation(
            property=("{ color: [0.05, 0.36, 0.9], opacity: bend ? 0.45 : 0 }",),
            actor=("{ pickable: false, visibility: bend > 0 }",),
        ):
            vtk.VtkAlgorithm(
                vtk_class="vtkSphereSource",
                state=(
                    "{ center: places[bend - 1] || [0, 0, 0], radius: marker, "
                    "thetaResolution: 24, phiResolution: 24 }",
                ),
            )


def _pull() -> None:
    """The pull: its load from end to end, where the head is, and what the machine feels then.

    Its place is kept while an edit is worked out, so that the picture does not change its size.
    """
    with html.Div(classes="r3-pull", id="pull"):
        vuetify.VBtn(
            icon=("playing ? 'mdi-pause' : 'mdi-play'",),
            click="window.trame.utils.route3d.play()",
            disabled=("!film",),
            variant="outlined",
            id="play",
            **spoken(aria_label=("playing ? 'pause the pull' : 'play the pull'",)),
        )
        with html.Div():
            _loads()
            vuetify.VSlider(
                model_value=("head",),
                min=0,
                max=100,
                step=0.5,
                hide_details=True,
                disabled=("!film",),
                update_modelValue="window.trame.utils.route3d.pullTo($event)",
                __events=["update_modelValue"],
                id="head",
                **spoken(aria_label="share of the cable pulled in, per cent"),
            )
        with html.Div(classes="r3-now", id="now", **spoken(aria_live="off")):
            html.Span("The pull is being worked out.", v_if="!film")
            html.Span("Whole cable in.", v_if="film && head >= 100")
            with html.Span(v_for="n in now", key="n.name", classes=("n.over ? 'r3-stop' : ''",)):
                html.Span("{{ n.name + ' ' }}", classes="r3-faint")
                html.B("{{ n.value }}")
            with html.Span(v_if="trail", classes="r3-faint"):
                for part in ("cable", "rope"):
                    html.Span(classes=f"r3-swatch r3-{part}")
                    html.Span(part)


def _loads() -> None:
    """Load on the machine over the slider, which is its axis; the load to stay below with it."""
    with html.Div(v_if="loads || !film", classes="r3-loads", id="loads"):
        with html.Div(classes="r3-loads-words"):
            html.Span("{{ loads ? loads.words : 'Machine load as the head moves' }}")
            html.Span("{{ loads.line }}", v_if="loads && loads.line", classes="r3-limit")
        raw = ['viewBox="0 0 100 40"', 'preserveAspectRatio="none"', 'aria-hidden="true"']
        with AbstractElement("svg", raw_attrs=raw):
            for key in ("limit", "load", "over"):
                AbstractElement(
                    "path",
                    v_if=f"loads && loads.{key}",
                    classes=f"r3-line-{key}",
                    raw_attrs=[f':d="loads.{key}"'],
                )
        html.Div(classes="r3-mark", style=("{ left: head + '%' }",))


def _overlay() -> None:
    """Words over the picture; vtk.js has none of its own."""
    with html.Div(classes="r3-over", **spoken(aria_hidden="true")):
        with AbstractElement("svg"):
            for part in ("rope", "cable"):
                AbstractElement(
                    "polyline",
                    v_if="trail",
                    classes=f"r3-{part}",
                    raw_attrs=[f':points="trail.{part}"'],
                )
            AbstractElement(
                "circle",
                v_if="trail",
                raw_attrs=[
                    ':cx="trail.x" :cy="trail.y" r="8"',
                    'fill="var(--r3-ink)" stroke="var(--r3-ground)" stroke-width="2"',
                ],
            )
            with AbstractElement("g", v_if="cue", raw_attrs=['stroke="var(--r3-ink)"']):
                AbstractElement(
                    "path", raw_attrs=[':d="cue.path"', 'fill="none"', 'stroke-width="1.8"']
                )
            AbstractElement(
                "line",
                v_for="(t, i) in tags",
                raw_attrs=[
                    ":key=\"'l' + i\"",
                    ':x1="t.px" :y1="t.py" :x2="t.ex" :y2="t.ey"',
                    'stroke="var(--r3-ink)" stroke-width="1.2"',
                ],
            )
        with html.Template(v_if="cue"):
            html.Div("{{ cue.words }}", classes="r3-cue", style=("cue.at",))
            html.Div("N", v_if="cue.north", classes="r3-cue", style=("cue.north",))
        with html.Div(
            v_for="(t, i) in tags",
            key="i",
            classes=("['r3-tag', t.kind, t.alarm ? 'alarm' : '', t.picked ? 'picked' : '']",),
            style=("{ left: t.x + 'px', top: t.y + 'px', minWidth: t.w + 'px' }",),
        ):
            html.Div("{{ line }}", v_for="(line, k) in t.lines", key="k")
    html.Div("{{ probe }}", v_if="probe", classes="r3-probe", id="probe", **spoken(role="status"))


def _legend() -> None:
    with html.Div(classes="r3-legend", id="legend"):
        html.B("{{ legend[units][colour_by].title }}")
        html.Span(" · {{ legend[units][colour_by].rule }}", classes="r3-faint")
        with html.Span(v_if="legend[units][colour_by].over"):
            html.Span(classes="r3-swatch", style=("{ background: legend[units][colour_by].over }",))
            html.B("over the limit", classes="r3-stop")
        with html.Div(v_if="legend[units][colour_by].gradient"):
            html.Div(classes="r3-bar", style=("{ background: legend[units][colour_by].gradient }",))
            with html.Div(classes="r3-ticks"):
                html.Span("{{ t }}", v_for="(t, i) in legend[units][colour_by].ticks", key="i")
        with (
            html.Div(v_if="legend[units][colour_by].entries.length"),
            html.Span(v_for="e in legend[units][colour_by].entries", key="e.name", classes="mr-3"),
        ):
            html.Span(classes="r3-swatch", style=("{ background: e.colour }",))
            html.Span("{{ e.name }}")
