"""What would make the run pass, as the engineer's and the foreman's tab show it."""

from __future__ import annotations

from trame.widgets import html


def remedies(where: str) -> None:
    """The list in numbers and cost classes; ``where`` is the id of its element."""
    with html.Section(
        v_if="help[units].title || help[units].why_none || help[units].foot",
        classes="r3-help",
        id=where,
    ):
        html.H2("{{ help[units].title }}", v_if="help[units].title")
        html.P("{{ help[units].aim }}", v_if="help[units].aim", classes="r3-comes")
        html.P("{{ help[units].why_none }}", v_if="help[units].why_none", classes="r3-caution")
        with html.Template(v_for="(g, i) in help[units].groups", key="i"):
            html.H3("{{ g.cost_class }}", classes=("'r3-cost r3-cost' + g.rank",))
            with (
                html.Ol(),
                html.Li(
                    v_for="r in g.lines",
                    key="r.number",
                    value=("r.number",),
                    classes=("'r3-cost' + g.rank",),
                ),
            ):
                html.B("{{ r.number }}", classes="r3-number")
                html.Div("{{ r.what }}")
                html.Div("{{ r.comes_of_it }}", classes="r3-comes")
                html.Div("{{ r.caution }}", v_if="r.caution", classes="r3-comes r3-caution")
                html.Div("{{ r.left }}", v_if="r.left", classes="r3-comes r3-stop")
        html.P("{{ help[units].foot }}", v_if="help[units].foot", classes="r3-foot r3-faint")
        html.Code("{{ help[units].command }}", v_if="help[units].command")
