"""The foreman's tab: large type, one column on a phone, nothing to edit."""

from __future__ import annotations

from trame.widgets import html

from viewer.page.attributes import spoken


def foreman_panel() -> None:
    """The whole width of the page."""
    with html.Main(classes="r3-crew", **spoken(aria_label="for the crew")):
        html.Div("{{ title }}", classes="r3-faint")
        html.H1(
            "{{ edit_words[units].length ? 'What if: this is not the plan' : crew[units].order }}",
            classes=(
                "['r3-order', edit_words[units].length ? 'r3-caution' : "
                "crew[units].go ? 'r3-go' : 'r3-stop']",
            ),
            id="order",
        )
        _ends()
        with html.Article(classes="v-card r3-card"):
            html.B("{{ crew[units].brake }}.", id="brake")
            html.P("{{ crew[units].why }}", classes="mt-1", id="crew-why")
            html.P("{{ crew[units].cables }}, {{ crew[units].length }} long.", classes="mt-1")
        with html.Template(v_if="crew[units].go"):
            with html.Div(classes="r3-two"):
                _stop()
                _expected()
            _readings()
        with html.Article(v_if="!crew[units].go", classes="v-card r3-card", id="no-readings"):
            html.P(
                "No gauge readings and no stop load are given for a pull that is not to be made."
            )
        _cautions()


def _ends() -> None:
    with html.Div(classes="r3-ends"):
        with html.Div(
            classes="r3-end", style=("{ background: crew[units].go ? '#0b5cad' : '#5b6570' }",)
        ):
            html.Small(
                "{{ crew[units].go ? 'Feed from: the reel stands at' : 'Looked at: reel at' }}"
            )
            html.B("{{ crew[units].feed }}", id="crew-feed")
        with html.Div(
            classes="r3-end", style=("{ background: crew[units].go ? '#7a3e9d' : '#5b6570' }",)
        ):
            html.Small(
                "{{ crew[units].go ? 'Pull at: the machine stands at' : 'Looked at: machine at' }}"
            )
            html.B("{{ crew[units].machine.place }}", id="crew-machine")
            html.Small("{{ crew[units].machine.name }}, {{ crew[units].machine.gear }}")


def _stop() -> None:
    with html.Article(classes="v-card r3-card"):
        html.H2("Stop load on the gauge")
        html.Div("{{ stop[units].load }}", classes="r3-big r3-stop", id="stop-load")
        html.P("{{ stop[units].text }}")


def _expected() -> None:
    with html.Article(classes="v-card r3-card"):
        html.H2("Largest expected reading")
        html.Div("{{ crew[units].machine.peak }}", classes="r3-big", id="expected-load")
        html.P(
            "A reading well above what is expected for the place means that something is not as "
            "planned. Find out what before going on."
        )


def _readings() -> None:
    with html.Article(classes="v-card r3-card", v_if="stop[units].rows.length", id="readings"):
        html.H2("Gauge readings by length of cable in")
        with html.Table(classes="r3-table"):
            with html.Thead(), html.Tr():
                for head in ("Cable in", "Expect", "Stop at", "Line speed", "Clock"):
                    small = head in ("Line speed", "Clock")
                    html.Th(head, scope="col", **_wide_only(small))
            with html.Tbody(), html.Tr(v_for="(r, i) in stop[units].rows", key="i"):
                html.Th("{{ r.in }}", scope="row")
                html.Td("{{ r.expected }}")
                html.Td("{{ r.stop }}", classes="r3-stop")
                html.Td("{{ r.gear }}", **_wide_only(True))
                html.Td("{{ r.time }}", **_wide_only(True))
        html.P("{{ stop[units].time }}", classes="mt-2", v_if="stop[units].time")
        html.Div(
            v_html=("crew_chart[units][$vuetify.display.width < 640 ? 'narrow' : 'wide']",),
            classes="r3-chart mt-2",
        )


def _wide_only(needed: bool) -> dict[str, str]:
    return {"v_if": "$vuetify.display.width >= 640"} if needed else {}


def _cautions() -> None:
    with html.Article(classes="v-card r3-card", id="cautions"):
        html.H2("Cautions")
        with html.Div(v_for="(c, i) in crew[units].cautions", key="i", classes="mb-2"):
            html.B(
                "{{ c.severity.toUpperCase() }}: {{ c.title }}",
                v_if="c.title",
                classes=("'r3-' + c.severity",),
            )
            html.Div("{{ c.text }}")
