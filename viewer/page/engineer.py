"""The engineer's tab: the decision, what can be edited, both directions, charts, findings."""

from __future__ import annotations

from trame.widgets import html
from trame.widgets import vuetify3 as vuetify

from viewer.page.attributes import spoken
from viewer.page.remedies import remedies

_CHANGE = ["change"]


def engineer_panel() -> None:
    """Beside the picture."""
    _decision()
    _form()
    _directions()
    _charts()
    _findings()


def _decision() -> None:
    with html.Article(classes="v-card r3-card", id="decision", **spoken(aria_live="polite")):
        html.H1(
            "{{ sheet[units].headline }}",
            classes=("['r3-head', 'r3-' + sheet[units].tone]",),
            id="headline",
        )
        html.P("{{ sheet[units].sentence }}", id="why")
        remedies("help")
        with html.Div(classes="r3-facts"):
            with html.Div(v_for="f in sheet[units].facts", key="f.name"):
                html.Span("{{ f.name }}{{ f.alarm ? ' · OVER LIMIT' : '' }}")
                html.B(
                    "{{ f.value }}",
                    classes=("f.alarm ? 'r3-stop' : ''",),
                    id=("'fact-' + f.name.toLowerCase().replaceAll(' ', '-')",),
                )
                html.Span("{{ f.note }}")


def _form() -> None:
    """Enter or leaving a field applies it; a slider applies when let go."""
    with html.Article(classes="v-card r3-card", id="form"):
        html.H2("What if")
        with html.Div(classes="r3-form"):
            with html.Div(
                v_for="f in fields[units].filter(f => f.key.startsWith('friction:'))",
                key="f.key + units + asked",
                classes="r3-wide",
            ):
                html.Div("{{ f.label }}", classes="r3-faint", style="font-size: 14px")
                with html.Div(classes="r3-slide"):
                    _slider()
                    text_field(aria="f.label + ', as a number'")
            _feed()
            with html.Template(
                v_for="f in fields[units].filter(f => !f.key.startsWith('friction:'))",
                key="f.key + units + asked",
            ):
                vuetify.VSelect(
                    v_if="f.key === 'machine'",
                    model_value=("f.text || null",),
                    items=("machines",),
                    label=("f.label",),
                    placeholder="none named",
                    persistent_placeholder=True,
                    variant="outlined",
                    density="comfortable",
                    hide_details=True,
                    classes=("f.edited ? 'r3-edited' : ''",),
                    update_modelValue="window.trame.utils.route3d.edit(f.key, $event)",
                    __events=["update_modelValue"],
                )
                text_field(label="f.label", otherwise=True)
            _bend_field()


def _slider() -> None:
    """For a friction: let go, or moved by keys, it applies."""
    vuetify.VSlider(
        model_value=("Number(f.text)",),
        min=0.05,
        max=("Math.max(0.8, Number(f.text))",),
        step=0.01,
        hide_details=True,
        thumb_label=True,
        thumb_size=26,
        end="window.trame.utils.route3d.edit(f.key, Number($event).toFixed(2))",
        keyup="window.trame.utils.route3d.slid(f.key, $event)",
        __events=["end", "keyup"],
        **spoken(aria_label=("f.label",)),
    )


def text_field(label: str = "", aria: str = "", otherwise: bool = False) -> None:
    """A field for the loop's ``f``; ``label`` and ``aria`` are expressions.

    With ``otherwise`` it is the else of the widget before.
    """
    raw = spoken(aria_label=(aria,))["raw_attrs"] if aria else []
    vuetify.VTextField(
        model_value=("f.text",),
        suffix=("f.unit",),
        variant="outlined",
        density="comfortable",
        hide_details=True,
        autocomplete="off",
        classes=("f.edited ? 'r3-edited' : ''",),
        change="window.trame.utils.route3d.edit(f.key, $event.target.value)",
        id=("'field-' + f.key",),
        raw_attrs=[*raw, *(["v-else"] if otherwise else [])],
        __events=_CHANGE,
        **({"label": (label,)} if label else {}),
    )


def _feed() -> None:
    with html.Div(classes="r3-wide"):
        html.Div("Feed end", classes="r3-faint", id="feed-label", style="font-size: 13px")
        with vuetify.VBtnToggle(
            model_value=("feed",),
            mandatory=True,
            divided=True,
            variant="outlined",
            density="comfortable",
            **spoken(aria_labelledby="feed-label"),
            update_modelValue="window.trame.utils.route3d.edit('feed', $event)",
            __events=["update_modelValue"],
            style="flex-wrap: wrap; height: auto",
        ):
            vuetify.VBtn(
                "{{ e.title }}",
                v_for="e in ends",
                key="e.value",
                value=("e.value",),
                id=("'feed-' + e.value",),
            )


def _bend_field() -> None:
    """One bend at a time: the one selected in the picture, in the table, or here."""
    with html.Template(v_if="bend_fields[units].length"):
        vuetify.VAutocomplete(
            model_value=("bend || null",),
            items=(
                "bend_fields[units].map((f, i) => ({ value: i + 1, "
                "title: f.label.replace(' radius', '') }))",
            ),
            label="Bend to change",
            variant="outlined",
            density="comfortable",
            hide_details=True,
            update_modelValue="window.trame.utils.route3d.select($event || 0)",
            __events=["update_modelValue"],
        )
        with html.Template(
            v_for="f in bend ? bend_fields[units].slice(bend - 1, bend) : []",
            key="f.key + units + asked",
        ):
            text_field(label="f.label")


def _directions() -> None:
    with html.Article(classes="v-card r3-card", id="directions"):
        html.H2("Both directions")
        with html.Table(classes="r3-table"):
            with html.Thead(), html.Tr():
                html.Th("{{ h }}", v_for="(h, i) in sheet[units].heads", key="i", scope="col")
            with html.Tbody(), html.Tr(v_for="(row, i) in sheet[units].rows", key="i"):
                html.Th("{{ row.name }}", scope="row")
                html.Td(
                    "{{ c.text }}",
                    v_for="(c, k) in row.cells",
                    key="k",
                    classes=("c.alarm ? 'r3-stop r3-strong' : ''",),
                )


def _charts() -> None:
    size = "$vuetify.display.width < 640 ? 'narrow' : 'wide'"
    for name, title in (("profile", "Along the route"), ("history", "As the head moves")):
        with html.Article(
            classes="v-card r3-card",
            id=f"chart-{name}",
            v_if=f"charts[units].{name}.wide",
        ):
            html.H2(title)
            html.Div(v_html=(f"charts[units].{name}[{size}]",), classes="r3-chart")
            if name == "history":
                html.P(
                    "{{ charts[units].ending }}",
                    v_if="charts[units].ending",
                    classes="r3-stop",
                    id="ending",
                )


def _findings() -> None:
    with html.Article(classes="v-card r3-card", id="findings"):
        html.H2("Findings, {{ sheet[units].of }}")
        with html.Div(v_for="(f, i) in sheet[units].findings", key="i", classes="r3-finding"):
            html.B(
                "{{ f.severity.toUpperCase() }}",
                classes=("f.severity === 'note' ? '' : 'r3-' + f.severity",),
            )
            html.B(" · {{ f.rule }}, {{ f.where }}")
            html.Span(
                ": {{ f.measured }}{{ f.limit === '-' ? '' : ' against ' + f.limit }}",
                v_if="f.measured !== '-'",
            )
            html.Div("{{ f.fix }}")
            html.Div("{{ f.source }}", classes="r3-faint", style="font-size: 13px")
        html.P(
            "and {{ sheet[units].more }} more: route3d check lists them", v_if="sheet[units].more"
        )
        html.P("{{ sheet[units].passed }}.", classes="mt-2")
        html.P("{{ n }}", v_for="(n, i) in sheet[units].notes", key="'n' + i", classes="r3-faint")
