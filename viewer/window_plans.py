"""The plans a window shows: at once where that is quick, else beside it."""

from __future__ import annotations

from collections.abc import Callable
from queue import Empty, SimpleQueue
from threading import Thread

from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.placement import PlacementSearch
from route3d.planning.plan import Plan
from route3d.planning.result import RunResult
from viewer.gauge import is_quick, plan_for_crew

Key = tuple[int, int]
"""Number of the run, and of the vertex it is fed from."""


class Plans:
    """Every plan asked for so far; those of very long runs come later, one thread for each."""

    def __init__(self) -> None:
        self._known: dict[Key, Plan | None] = {}
        self._waiting: dict[Key, Callable[[], None]] = {}
        self._done: SimpleQueue[tuple[Key, Plan | Exception | None]] = SimpleQueue()

    def of(
        self,
        key: Key,
        result: RunResult,
        candidate: Candidate,
        job: Job,
        place: PlacementSearch | None,
    ) -> Plan | None:
        """The plan of a direction; None where there is none, or none yet."""

        def make() -> Plan | None:
            return plan_for_crew(result, candidate, job, placement=place, patient=True)

        def later() -> None:
            try:
                self._done.put((key, make()))
            except Exception as error:  # shown where the window is: see came
                self._done.put((key, error))

        if key not in self._known:
            if is_quick(candidate):
                self._known[key] = make()
            else:  # begun once the picture stands
                self._known[key] = None
                self._waiting[key] = later
        return self._known[key]

    def came(self) -> bool:
        """Whether a plan has come since the last time this was asked; raises what it raised.

        Begins those asked for meanwhile.
        """
        for later in self._waiting.values():
            Thread(target=later, daemon=True).start()
        self._waiting.clear()
        try:
            key, plan = self._done.get_nowait()
        except Empty:
            return False
        if isinstance(plan, Exception):
            raise plan
        self._known[key] = plan
        return True
