"""The foreman's tab: large type, one column on a phone, nothing to edit."""

from __future__ import annotations

from trame.widgets import html

from viewer.gauge import NOT_TO_BE_MADE
from viewer.page.attributes import spoken
from viewer.page.remedies import remedies

_WIDE = "$vuetify.display.width >= 640"


def foreman_panel() -> None:
    """The whole width of the page."""
    with html.Main(classes="r3-crew", **spoken(aria_label="for the crew")):
        html.Div("{{ title }}", classes="r3-faint")
        html.H1(
            "{{ edit_words[units].length && !crew[units].other ? 'What if: this is not the plan' "
            ": crew[units].order }}",
            classes=(
                "['r3-order', 'r3-' + (edit_words[units].length && crew[units].go ? 'caution' "
                ": crew[units].tone)]",
            ),
            id="order",
        )
        _why_not()
        _ends()
        with html.Article(classes="v-card r3-card"):
            html.B("{{ crew[units].brake }}.", v_if="crew[units].go", id="brake")
            html.P("{{ crew[units].why }}", v_if="crew[units].go", classes="mt-1", id="crew-why")
            html.P("{{ crew[units].cables }}, {{ crew[units].length }} long.", classes="mt-1")
        with html.Template(v_if="crew[units].go"):
            with html.Div(classes="r3-two"):
                _readings_now()
                _lacking()
                _checks()
            _gears()
            _readings()
            _accidents()
            _machine()
            _holds()
        with html.Article(v_if="!crew[units].go", classes="v-card r3-card", id="no-readings"):
            html.P(NOT_TO_BE_MADE)
        _cautions()


def _why_not() -> None:
    """Why nobody pulls now, and what the office can change: first of all, and in the large type."""
    with html.Article(
        v_if="!crew[units].go",
        classes=("['v-card r3-card r3-halt', 'r3-of-' + crew[units].tone]",),
        id="why-not",
    ):
        html.P("{{ crew[units].why }}")
        remedies("crew-help")


def _ends() -> None:
    """Where reel and machine stand; of a pull that must not be made only where asked for."""
    with html.Div(v_if="crew[units].go || feed !== 'best'", classes="r3-ends"):
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
                "{{ !crew[units].go ? 'Looked at: machine at' : crew[units].machine.named ? "
                "'Pull at: the machine stands at' : 'Pull at' }}"
            )
            html.B("{{ crew[units].machine.place }}", id="crew-machine")
            html.Small("{{ crew[units].machine.name }}")


_NOW = "stop[units].rows[Math.min(at_row, stop[units].rows.length - 1)]"
_NEXT = "stop[units].rows[at_row + 1]"


def _readings_now() -> None:
    """Expected, caution and stop of the place now and of the next one, each of one row."""
    with html.Article(classes="v-card r3-card", v_if="!crew[units].lacking"):
        html.H2("On the gauge now")
        with html.Template(v_if="stop[units].rows.length"):
            html.P(f"{{{{ {_NOW}.in }}}} {{{{ length_unit[units] }}}} in {{{{ {_NOW}.place }}}}")
            html.Div(
                f"{{{{ {_NOW}.stop }}}} {{{{ force_unit[units] }}}}",
                classes="r3-big r3-stop",
                id="stop-load",
            )
            html.P(
                f"stop. Expected {{{{ {_NOW}.expected }}}}, caution {{{{ {_NOW}.caution }}}}"
                " {{ force_unit[units] }}.",
                id="expected-load",
            )
            html.P(
                f"Next, {{{{ {_NEXT}.in }}}} {{{{ length_unit[units] }}}} in "
                f"{{{{ {_NEXT}.place }}}}: expected {{{{ {_NEXT}.expected }}}}, "
                f"caution {{{{ {_NEXT}.caution }}}}, stop {{{{ {_NEXT}.stop }}}} "
                "{{ force_unit[units] }}.",
                v_if=_NEXT,
                id="next-readings",
            )
            with html.Div(classes="mt-2"):
                html.Button(
                    "Head is at the next place",
                    type="button",
                    classes="r3-step",
                    click="at_row = Math.min(at_row + 1, stop[units].rows.length - 1)",
                )
                html.Button(
                    "Back",
                    type="button",
                    classes="r3-step ml-2",
                    click="at_row = Math.max(at_row - 1, 0)",
                )
        html.Div(
            "{{ stop[units].load === '-' ? 'not known' : stop[units].load }}",
            classes="r3-big r3-stop",
            id="stop-load",
            v_if="!stop[units].rows.length",
        )
        html.P(
            "A reading well above what is expected for the place means that something is not as "
            "planned. Find out what before going on."
        )


def _lacking() -> None:
    with html.Article(classes="v-card r3-card", v_if="crew[units].lacking", id="lacking"):
        html.H2("No stop load, no readings")
        html.P("{{ crew[units].lacking }}")
        html.P("Do not pull before the model names it and this page gives a stop load.")


def _checks() -> None:
    """The limiter's set point, and what to check before each stage."""
    with html.Article(classes="v-card r3-card", v_if="stop[units].checks.length", id="checks"):
        html.H2("Acceptance checks")
        html.P("{{ c }}", v_for="(c, i) in stop[units].checks", key="'a' + i", classes="mt-1")


def _readings() -> None:
    with html.Article(classes="v-card r3-card", v_if="stop[units].rows.length", id="readings"):
        html.H2("Gauge readings by length of cable in")
        with html.Table(classes="r3-table"):
            with html.Thead(), html.Tr():
                html.Th(
                    "{{ h }}",
                    v_for="(h, i) in stop[units].heads",
                    key="i",
                    scope="col",
                    v_show=f"{_WIDE} || (i !== 1 && i !== 5)",
                )
            with html.Tbody(), html.Tr(v_for="(r, i) in stop[units].rows", key="i"):
                with html.Th(scope="row"):
                    html.Span("{{ r.in }}")
                    html.Small("{{ r.place }}", v_if="r.place", classes="r3-place")
                html.Td("{{ r.gear }}", v_show=_WIDE)
                with html.Td():
                    html.Span("{{ r.expected }}")
                    html.Small("first move {{ r.first }}", v_if="r.first", classes="r3-place")
                    html.Small("gauge not usable", v_if="!r.usable", classes="r3-place r3-caution")
                html.Td("{{ r.caution }}", classes="r3-caution")
                html.Td("{{ r.stop }}", classes="r3-stop")
                html.Td("{{ r.breaks }}", v_show=_WIDE)
        html.P("{{ n }}", v_for="(n, i) in stop[units].notes", key="'n' + i", classes="mt-2")
        html.Div(
            v_html=("crew_chart[units][$vuetify.display.width < 640 ? 'narrow' : 'wide']",),
            classes="r3-chart mt-2",
        )


def _gears() -> None:
    with html.Article(classes="v-card r3-card", v_if="stop[units].gears.length", id="gears"):
        html.H2("Gears and crew time")
        html.P("{{ g }}", v_for="(g, i) in stop[units].gears", key="'g' + i")
        html.P("{{ t }}", v_for="(t, i) in stop[units].time", key="'t' + i", classes="mt-1")


def _accidents() -> None:
    with html.Article(
        classes="v-card r3-card", v_if="stop[units].accidents.length", id="accidents"
    ):
        html.H2("If it stops by accident")
        html.P("{{ a }}", v_for="(a, i) in stop[units].accidents", key="'a' + i", classes="mt-1")


def _machine() -> None:
    with html.Article(classes="v-card r3-card", v_if="stop[units].machine.length", id="held"):
        html.H2("Machine, and what holds it")
        html.P("{{ m }}", v_for="(m, i) in stop[units].machine", key="'m' + i")
        html.P("{{ l }}", v_for="(l, i) in stop[units].link", key="'l' + i", classes="mt-1")


def _holds() -> None:
    with html.Article(classes="v-card r3-card", v_if="stop[units].holds.length", id="holds"):
        html.H2("Wait for a yes at each of these")
        with html.Ul(classes="ml-6"):
            html.Li("{{ h }}", v_for="(h, i) in stop[units].holds", key="'h' + i", classes="mb-1")


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
