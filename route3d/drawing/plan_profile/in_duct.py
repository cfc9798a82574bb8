"""The duct of a bank that a run lies in, and how long it is there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.checks.bank import widest_duct
from route3d.geometry.bank import duct_offsets, duct_places, offset_paths, room, shortages
from route3d.geometry.fillet import route_path
from route3d.geometry.rmf_frames import frames
from route3d.model.job import Bank, Job
from route3d.units import show


@dataclass(frozen=True, slots=True)
class InDuct:
    """Where a run lies in a bank; ``length`` m is that of the duct, None where it has no path."""

    bank: Bank
    row: int
    column: int
    length: float | None

    def words(self, run: str, system: str) -> str:
        """That the sheet shows another line than that of the duct, and how long the duct is."""
        duct = f"duct {self.row}-{self.column}"
        long = "has no path" if self.length is None else f"is {show(self.length, 'length', system)}"
        if self.bank.run == run:
            return f"shown at the center of the bank; {duct} {long}"
        return f"shown on its own line; {duct} of the bank of run {self.bank.run} {long}"


def in_duct(job: Job, run: str) -> InDuct | None:
    """The duct that the model file assigns to a run, None where it assigns none."""
    runs = {one.name: one for one in job.runs}
    for bank in job.banks:
        found = next((p for p in duct_places(bank) if bank.run_in(*p) == run), None)
        if found is None or bank.run not in runs:
            continue
        leader = runs[bank.run]
        center = route_path(leader.route)
        starts, at = frames(center), duct_places(bank).index(found)
        short = shortages(room(center, starts), bank, widest_duct(leader))
        if any(one.duct == at for one in short):
            return InDuct(bank, *found, None)
        (path,) = offset_paths(center, np.asarray(duct_offsets(bank))[[at]], starts)
        return InDuct(bank, *found, path.length)
    return None
