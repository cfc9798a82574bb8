"""Looks for what would make a run pass."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.model.job import Job
from route3d.phrase import say
from route3d.planning.placement_site import SiteMesh
from route3d.planning.remedies.remedy import Advice
from route3d.planning.result import RunResult


def advise(result: RunResult, job: Job, meshes: Sequence[SiteMesh] = ()) -> Advice:
    """The remedies of a run that something stops."""
    return Advice((), say("none yet"), job.practice.margin, 1.1)
