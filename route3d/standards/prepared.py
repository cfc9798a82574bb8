"""Write the files that stand ready, from what they are made of.

``python -m route3d.standards.prepared`` renews the factors of everyday units, worked out by pint,
and the published tables, read from their TOML files.
"""

from __future__ import annotations

import json
from pathlib import Path

from route3d.standards.tables import prepared_tables
from route3d.units import everyday_factors


def prepared_files() -> dict[Path, str]:
    """Each file that stands ready, and the text it must have."""
    house = Path(__file__).parents[1]
    tables = prepared_tables().items()
    rows = (f"{json.dumps(name)}: {json.dumps(t, ensure_ascii=False)}" for name, t in tables)
    return {
        house / "everyday_units.json": json.dumps(everyday_factors(), indent=0) + "\n",
        house / "standards" / "data" / "tables.json": "{\n" + ",\n".join(rows) + "\n}\n",
    }


if __name__ == "__main__":
    for file, text in prepared_files().items():
        file.write_text(text, encoding="utf-8")
        print(f"wrote {file}")
