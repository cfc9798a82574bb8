"""The frame of the page: bar, tabs, notices, the 3D picture, and what each tab puts beside it.

Expressions in here run in the browser. The keys of ``server.CLIENT_ONLY`` belong to each browser
alone: its tab, units, theme, selected bend. All others are the one job that all browsers share.
"""

from __future__ import annotations

from typing import Any

from trame.ui.vuetify3 import VAppLayout
from trame.widgets import client, html, vtk
from trame.widgets import vuetify3 as vuetify
from trame_client.widgets.core import AbstractElement

from viewer.page.attributes import spoken
from viewer.page.detailer import detailer_panel
from viewer.page.engineer import engineer_panel
from viewer.page.foreman import foreman_panel

# One finger or the left button turns, two fingers or the right button move and zoom.
_GESTURES = [
    {"button": 1, "action": "Rotate"},
    {"button": 2, "action": "Pan"},
    {"button": 3, "action": "Pan"},
    {"button": 3, "action": "Zoom", "scrollEnabled": True, "dragEnabled": False},
    {"button": 1, "action": "Pan", "shift": True},
]
_TABS = (("engineer", "Engineer"), ("detailer", "Detailer"), ("foreman", "Foreman"))
_LOOKS = (
    ("iso", "Corner"),
    ("plan", "Plan"),
    ("south", "From south"),
    ("east", "From east"),
    ("profile", "Profile"),
)
_ROOMY = ("south", "east")  # left out on a phone: a finger turns the picture
_COLOUR_BY = (
    ("tension", "Tension"),
    ("sidewall", "Sidewall pressure"),
    ("utilisation", "Share of limit"),
    ("conduit", "Conduit"),
)


def build_page(server: Any) -> None:
    """All widgets of the page."""
    with VAppLayout(server, theme=("dark ? 'dark' : 'light'",), classes="r3-app"):
        # the values of the run this browser looks at, see live.py; first once all widgets listen
        client.ClientTriggers(mounted="window.setTimeout(window.trame.utils.route3d.start)")
        for key in ("shown", "run"):
            follow = "window.trame.utils.route3d.follow()"
            client.ClientStateChange(value=key, change=follow, immediate=True)
        _bar()
        with vuetify.VMain(
            v_if="title", classes=("['r3-main', tab === 'foreman' ? 'r3-long' : '']",)
        ):
            html.Div(
                "{{ title }}",
                v_if="$vuetify.display.width <= 1150 && tab !== 'foreman'",
                classes="r3-title",
                id="title",
            )
            _runs()
            _notices()
            with html.Main(
                v_show="tab !== 'foreman'",
                classes="r3-stage",
                **spoken(aria_label="route and tables"),
            ):
                _picture()
                with html.Section(classes="r3-panel", **spoken(aria_label="tables")):
                    with html.Div(v_if="tab === 'engineer'"):
                        engineer_panel()
                    with html.Div(v_if="tab === 'detailer'"):
                        detailer_panel()
            with html.Div(v_if="tab === 'foreman'"):
                foreman_panel()
        for key in ("labels", "units", "dark"):  # the words over the picture follow
            client.ClientStateChange(value=key, change="window.trame.utils.route3d.renewed()")
        client.ClientStateChange(value="box", change="window.trame.utils.route3d.aim(looking)")


# --- bar, runs and notices ---------------------------------------------------------------------


def _bar() -> None:
    with vuetify.VAppBar(density="comfortable", flat=True, border=True, height=64):
        vuetify.VAppBarTitle(
            "{{ runs.length > 1 ? job : title }}", v_if="$vuetify.display.width > 1150"
        )
        with vuetify.VTabs(
            v_model=("tab", "engineer"),
            show_arrows=False,
            height=56,
            density="compact",
            **spoken(aria_label="who is looking"),
        ):
            for value, name in _TABS:
                vuetify.VTab(
                    name,
                    value=value,
                    min_width=0,
                    classes="px-2 px-sm-4",
                    id=f"tab-{value}",
                )
        vuetify.VSpacer()
        with vuetify.VBtnToggle(
            v_model=("units", "US"),
            mandatory=True,
            density="comfortable",
            divided=True,
            variant="outlined",
            **spoken(aria_label="units"),
        ):
            for name in ("US", "SI"):
                vuetify.VBtn(name, value=name, classes="px-2", **spoken(aria_label=f"{name} units"))
        vuetify.VBtn(
            icon=("dark ? 'mdi-weather-sunny' : 'mdi-weather-night'",),
            click="window.trame.utils.route3d.theme(!dark)",
            **spoken(aria_label=("dark ? 'light colours' : 'dark colours'",)),
            classes="ml-1",
        )


def _runs() -> None:
    """Which run to look at; nothing where the file has one."""
    with html.Div(v_if="runs.length > 1 || !runs.some(r => r.value === run)", classes="r3-runs"):
        vuetify.VSelect(
            model_value=("run",),
            items=("runs",),
            label=("'Run (' + runs.length + ' in this file)'",),
            variant="outlined",
            density="comfortable",
            hide_details=True,
            loading=("opening",),
            disabled=("opening",),
            id="runs",
            update_modelValue="window.trame.utils.route3d.choose($event)",
            __events=["update_modelValue"],
        )
        html.Span(
            "{{ ((runs.find(r => r.value === run) || {}).props || {}).subtitle }}",
            classes="r3-faint",
        )


def _notices() -> None:
    vuetify.VAlert(
        "The server of this page has stopped: what is shown are its last figures, and nothing can "
        "be changed. Start it again with route3d serve, then load this page anew.",
        v_if="trame_error_report_msg",
        type="error",
        tile=True,
        density="compact",
        **spoken(role="alert"),
        id="ended",
    )
    with vuetify.VAlert(
        v_if="problems.length",
        type="error",
        tile=True,
        density="compact",
        **spoken(role="alert"),
        id="problems",
    ):
        html.Div(
            "The model file cannot be used as it is now. What is shown is the last good state of "
            "it.",
            classes="font-weight-bold",
        )
        html.Div("{{ p }}", v_for="(p, i) in problems.slice(0, 8)", key="i", classes="r3-problem")
        html.Div("and {{ problems.length - 8 }} more", v_if="problems.length > 8")
    vuetify.VAlert(
        "{{ message }}",
        v_if="message",
        type="error",
        tile=True,
        density="compact",
        **spoken(role="alert"),
        id="message",
        closable=True,
        click_close="message = ''",
        __events=[("click_close", "click:close")],
    )
    vuetify.VAlert(
        "{{ notice }}", v_if="notice", type="warning", color="#8a5300", tile=True, density="compact"
    )
    with vuetify.VAlert(
        v_if="edit_words[units].length",
        type="warning",
        color="#8a5300",
        tile=True,
        density="compact",
        id="what-if",
        **spoken(role="status"),
    ):
        with html.Div(classes="d-flex flex-wrap align-center", style="gap: 4px 14px"):
            html.B("What if, not in the model file:")
            html.Span("{{ w.text }}", v_for="w in edit_words[units]", key="w.key")
            vuetify.VBtn(
                "Back to the file",
                click="trigger('reset', [run])",
                variant="outlined",
                id="reset",
            )


# --- the picture -------------------------------------------------------------------------------


def _picture() -> None:
    with html.Section(classes="r3-picture", **spoken(aria_label="3D picture")):
        with html.Div(classes="r3-tools"):
            vuetify.VSelect(
                v_model=("colour_by", "tension"),
                items=("colour_choices", [{"value": v, "title": t} for v, t in _COLOUR_BY]),
                label="Colour by",
                density="compact",
                hide_details=True,
                variant="outlined",
                style="max-width: 210px; min-width: 150px",
            )
            with vuetify.VBtnToggle(
                v_model=("looking", "iso"),
                density="comfortable",
                divided=True,
                variant="outlined",
                **spoken(aria_label="look from"),
                mandatory=True,
            ):
                for value, name in _LOOKS:
                    vuetify.VBtn(
                        name,
                        value=value,
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
                v_html=("unrolled ? unrolled[units][dark ? 'dark' : 'light'] : ''",),
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
    """The pull: where the head is, and what the machine feels then."""
    with html.Div(v_if="film", classes="r3-pull", id="pull"):
        vuetify.VBtn(
            icon=("playing ? 'mdi-pause' : 'mdi-play'",),
            click="window.trame.utils.route3d.play()",
            variant="outlined",
            id="play",
            **spoken(aria_label=("playing ? 'pause the pull' : 'play the pull'",)),
        )
        vuetify.VSlider(
            model_value=("head",),
            min=0,
            max=100,
            step=0.5,
            hide_details=True,
            update_modelValue="window.trame.utils.route3d.pullTo($event)",
            __events=["update_modelValue"],
            id="head",
            **spoken(aria_label="share of the cable pulled in, per cent"),
        )
        with html.Div(classes="r3-now", id="now", **spoken(aria_live="off")):
            html.Span("Whole cable in: move the slider to pull it.", v_if="!now.length")
            with html.Span(v_for="n in now", key="n.name", classes=("n.over ? 'r3-stop' : ''",)):
                html.Span("{{ n.name }} ", classes="r3-faint")
                html.B("{{ n.value }}")


def _overlay() -> None:
    """Words over the picture; vtk.js has none of its own."""
    with html.Div(classes="r3-over", **spoken(aria_hidden="true")):
        with AbstractElement("svg"):
            for part, colour, width in (("rope", "#b07ad0", 3), ("cable", "#0b5cad", 6)):
                AbstractElement(
                    "polyline",
                    v_if="trail",
                    raw_attrs=[
                        f':points="trail.{part}"',
                        f'fill="none" stroke="{colour}" stroke-width="{width}"',
                        'stroke-linejoin="round"',
                    ],
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
        with html.Div(v_if="legend[units][colour_by].entries.length"):
            with html.Span(
                v_for="e in legend[units][colour_by].entries", key="e.name", classes="mr-3"
            ):
                html.Span(classes="r3-swatch", style=("{ background: e.colour }",))
                html.Span("{{ e.name }}")
