"""What a job is made of: frozen records in SI units (m, N, N/m, rad, m/s)."""

from route3d.model.allowances import Allowances
from route3d.model.anchor import Adapter, Anchor, ConduitBrace, FloorBolts, Vehicle, WorkPlatform
from route3d.model.cable import Cable, Conductor
from route3d.model.conduit import Conduit
from route3d.model.job import AssignedDuct, Bank, Job
from route3d.model.machine import Gear, Machine
from route3d.model.origin import Origin, OriginKind, Revision, TitleBlock
from route3d.model.practice import Practice
from route3d.model.rigging import CableReel, LeadOff, Reel, Rigging, Sheave
from route3d.model.room import Room
from route3d.model.rope import Rope
from route3d.model.route import Route, Vertex
from route3d.model.run import CableSet, EndSetup, Run
from route3d.model.site import Frame, GivenGrade, Placing, Site, Surround
from route3d.phrase import Phrase, say

__all__ = [
    "Adapter",
    "Allowances",
    "Anchor",
    "AssignedDuct",
    "Bank",
    "Cable",
    "CableReel",
    "CableSet",
    "Conductor",
    "Conduit",
    "ConduitBrace",
    "EndSetup",
    "FloorBolts",
    "Frame",
    "Gear",
    "GivenGrade",
    "Job",
    "LeadOff",
    "Machine",
    "Origin",
    "OriginKind",
    "Phrase",
    "Placing",
    "Practice",
    "Reel",
    "Revision",
    "Rigging",
    "Room",
    "Rope",
    "Route",
    "Run",
    "Sheave",
    "Site",
    "Surround",
    "TitleBlock",
    "Vehicle",
    "Vertex",
    "WorkPlatform",
    "say",
]
