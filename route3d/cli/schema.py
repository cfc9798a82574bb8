"""``route3d schema``: the JSON Schema of the model file."""

from __future__ import annotations

from route3d.cli.common import write_json


def schema() -> None:
    """Model file format (JSON Schema), for editors.

    An editor that knows the schema completes keys and marks mistakes while you type: save it and
    put the line "#:schema ./route3d.schema.json" at the top of the model file.

    Example: route3d schema > route3d.schema.json
    """
    from route3d.modelfile.schema import json_schema

    write_json(json_schema())
