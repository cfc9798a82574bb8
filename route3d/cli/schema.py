"""``route3d schema``: the JSON Schema of the model file."""

from __future__ import annotations

from route3d.cli.common import write


def schema() -> None:
    """Model file format (JSON Schema), for editors.

    An editor that knows the schema completes keys and marks mistakes while you type: save it and
    put the line "#:schema ./route3d.schema.json" at the top of the model file.

    Example: route3d schema > route3d.schema.json
    """
    from route3d.modelfile.schema import json_schema
    from route3d.report.json_result import dumps

    write(dumps(json_schema()))
