"""What a job is made of: frozen records in SI units (m, N, N/m, rad, m/s)."""

from route3d.model.cable import Cable, Conductor
from route3d.model.conduit import Conduit
from route3d.model.job import Bank, Job, Site
from route3d.model.machine import Gear, Machine
from route3d.model.practice import Practice
from route3d.model.rope import Rope
from route3d.model.route import Route, Vertex
from route3d.model.run import CableSet, Run
from route3d.phrase import Phrase, say

__all__ = [
    "Bank",
    "Cable",
    "CableSet",
    "Conductor",
    "Conduit",
    "Gear",
    "Job",
    "Machine",
    "Phrase",
    "Practice",
    "Rope",
    "Route",
    "Run",
    "Site",
    "Vertex",
    "say",
]
