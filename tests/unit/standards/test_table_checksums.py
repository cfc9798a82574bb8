"""Every table file is the one that was checked against its source, to the last character."""

from __future__ import annotations

import hashlib
from importlib import resources
from pathlib import Path

from route3d.standards.tables import table_names

DATA = resources.files("route3d.standards") / "data"
KEPT = Path(__file__).with_name("table_checksums.txt")
RENEW = (
    "Check each changed value against the printed source and restate it in tests/published "
    "(test_tables_every_column.py). Then renew the checksums:\n"
    "  (cd route3d/standards/data && sha256sum *.toml)"
    " > tests/unit/standards/table_checksums.txt"
)


def checksum(text: str) -> str:
    """As ``sha256sum`` gives it for the file with line ends of one character."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def kept() -> dict[str, str]:
    lines = (line.split() for line in KEPT.read_text(encoding="utf-8").splitlines())
    return {name.removesuffix(".toml"): digest for digest, name in lines}


def test_no_table_changes_without_its_checksum() -> None:
    found = {n: checksum((DATA / f"{n}.toml").read_text(encoding="utf-8")) for n in table_names()}
    known = kept()
    changed = sorted(n for n in known.keys() | found.keys() if known.get(n) != found.get(n))
    assert not changed, f"tables changed, added or lost: {', '.join(changed)}\n{RENEW}"


def test_one_digit_changes_a_checksum() -> None:
    text = (DATA / "nec_ch9_t4_emt.toml").read_text(encoding="utf-8")
    assert checksum(text) == kept()["nec_ch9_t4_emt"]
    assert checksum(text.replace("0.622", "0.623")) != kept()["nec_ch9_t4_emt"]
