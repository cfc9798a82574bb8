"""HTML attributes that trame's widgets do not know by name, and would leave out silently."""

from __future__ import annotations


def spoken(**values: str | tuple[str]) -> dict[str, list[str]]:
    """Attributes such as ``aria_label`` for a widget; a tuple holds an expression.

    >>> spoken(aria_label="units", role="group")
    {'raw_attrs': ['aria-label="units"', 'role="group"']}
    """
    return {"raw_attrs": [_attribute(name.replace("_", "-"), v) for name, v in values.items()]}


def _attribute(name: str, value: str | tuple[str]) -> str:
    return f':{name}="{value[0]}"' if isinstance(value, tuple) else f'{name}="{value}"'
