"""The detailer's tab: the bend schedule, tied to the picture both ways."""

from __future__ import annotations

from trame.widgets import html
from trame.widgets import vuetify3 as vuetify

from viewer.page.attributes import spoken
from viewer.page.engineer import text_field

_COLUMNS = (
    ("number", "Bend"),
    ("verdict", "Verdict"),
    ("share", "Of limit"),
    ("sidewall", "Sidewall"),
    ("radius", "Radius"),
    ("passes", "Passes from"),
    ("fits", "Fits up to"),
    ("least", "Least radius"),
    ("angle", "Angle"),
    ("plane", "Plane"),
    ("roll", "Roll"),
    ("station", "Station"),
    ("setback", "Set-back"),
    ("arc", "Arc length"),
    ("gain", "Gain"),
    ("before", "Straight before"),
    ("conduit", "Conduit"),
    ("made", "Made as"),
    ("at", "At"),
)
_MORE = (
    ("Radius", "b.radius"),
    ("Passes from", "b.passes"),
    ("Fits up to", "b.fits"),
    ("Least radius", "b.least"),
    ("Angle", "b.angle"),
    ("Sidewall", "b.sidewall + ' · ' + b.share + ' of limit'"),
    ("Station of its start", "b.station"),
    ("Set-back", "b.setback"),
    ("Arc length", "b.arc"),
    ("Gain", "b.gain"),
    ("Straight before", "b.before"),
    ("Straight after", "b.after"),
    ("Plane", "b.plane"),
    ("Roll from the bend before", "b.roll"),
    ("Conduit", "b.conduit"),
    ("Made as", "b.made"),
)


def detailer_panel() -> None:
    """Beside the picture."""
    _selected()
    _table()


def _selected() -> None:
    with html.Article(classes="v-card r3-card", id="selected", **spoken(aria_live="polite")):
        html.P("No bends in this run.", v_if="!bends[units].length")
        html.P(
            "Tap a bend in the picture or a row of the table.",
            v_if="bends[units].length && !bend",
        )
        with html.Div(v_for="b in bends[units].filter(b => b.number === bend)", key="b.number"):
            html.H1(
                "Bend {{ b.number }}: {{ b.verdict }}",
                classes=("['r3-head', b.severity === 'ok' ? 'r3-go' : 'r3-' + b.severity]",),
                id="bend-head",
            )
            with html.Div(classes="r3-facts"):
                for name, value in _MORE:
                    with html.Div():
                        html.Span(name)
                        html.B("{{ " + value + " }}", style="font-size: 16px")
            with html.P(v_for="(f, i) in b.todo", key="'do' + i", classes="mt-2"):
                html.B("{{ f.title }}: ", classes=("'r3-' + f.severity",))
                html.Span("{{ f.text }}")
            with html.Div(
                v_for="f in bend_fields[units].slice(bend - 1, bend)",
                key="f.key + units + asked",
                classes="mt-3",
                style="max-width: 260px",
            ):
                text_field(label="'Try another radius'")


def _table() -> None:
    headers = [{"key": key, "title": title, "sortable": False} for key, title in _COLUMNS]
    with html.Article(classes="v-card r3-card r3-bends", id="bends"):
        html.H2("Bends, those that fail first")
        html.P(
            "Verdict and sidewall pressure: fed from {{ bends_fed }}, as on show. Passes from: "
            "the least radius of that bend alone with which the run passes. More columns: scroll "
            "sideways, or tap a row.",
            classes="r3-faint mb-2",
            id="bends-fed",
        )
        with (
            vuetify.VDataTableVirtual(
                items=("bends[units]",),
                headers=("bend_headers", headers),
                item_value="number",
                density="compact",
                height=("Math.min(58 + 44 * bends[units].length, $vuetify.display.height - 220)",),
                item_height=44,
                fixed_header=True,
                hide_no_data=True,
                __properties=[("item_height", "item-height"), "height"],
            ),
            vuetify.Template(raw_attrs=['v-slot:item="{ item, itemRef }"']),
            html.Tr(
                raw_attrs=[':ref="itemRef"'],
                id=("'bend-row-' + item.number",),
                tabindex="0",
                classes=("item.number === bend ? 'r3-picked' : ''",),
                aria_selected=("item.number === bend ? 'true' : 'false'",),
                click="window.trame.utils.route3d.select(item.number)",
                keydown_enter="window.trame.utils.route3d.select(item.number)",
                keydown="window.trame.utils.route3d.step($event)",
                __events=["click", ("keydown_enter", "keydown.enter"), "keydown"],
                __properties=["tabindex", ("aria_selected", "aria-selected")],
            ),
        ):
            for key, _ in _COLUMNS:
                tone = "'r3-' + item.severity" if key == "verdict" else "''"
                html.Td("{{ item." + key + " }}", classes=(tone,))
