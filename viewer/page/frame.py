"""The frame of the page: bar, tabs, notices, the picture, and what each tab puts beside it.

Expressions in here run in the browser. The keys of ``server.CLIENT_ONLY`` belong to each browser
alone: its tab, units, theme, selected bend. All others are the one job that all browsers share.
"""

from __future__ import annotations

from typing import Any

from trame.ui.vuetify3 import VAppLayout
from trame.widgets import client, html
from trame.widgets import vuetify3 as vuetify

from viewer.page.attributes import spoken
from viewer.page.detailer import detailer_panel
from viewer.page.engineer import engineer_panel
from viewer.page.foreman import foreman_panel
from viewer.page.picture import picture

_TABS = (("engineer", "Engineer"), ("detailer", "Detailer"), ("foreman", "Foreman"))


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
                picture()
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
            **spoken(aria_label=("dark ? 'light colors' : 'dark colors'",)),
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
        "be changed. To start it again: route3d serve {{ model_name }}, in the folder of that "
        "file; then open the address it prints.",
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
    with (
        vuetify.VAlert(
            v_if="edit_words[units].length",
            type="warning",
            color="#8a5300",
            tile=True,
            density="compact",
            id="what-if",
            **spoken(role="status"),
        ),
        html.Div(classes="d-flex flex-wrap align-center", style="gap: 4px 14px"),
    ):
        html.B("What if, not in the model file:")
        html.Span("{{ w.text }}", v_for="w in edit_words[units]", key="w.key")
        vuetify.VBtn(
            "Back to the file",
            click="trigger('reset', [run])",
            variant="outlined",
            id="reset",
        )
