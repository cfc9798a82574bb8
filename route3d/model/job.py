"""The whole job, as one model file gives it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from route3d.model.allowances import Allowances
from route3d.model.machine import Machine
from route3d.model.origin import Origin, TitleBlock
from route3d.model.practice import Practice
from route3d.model.rigging import CableReel
from route3d.model.run import Run
from route3d.model.site import Site
from route3d.model.spread import SpreadInputs
from route3d.units import SYSTEMS


@dataclass(frozen=True, slots=True)
class AssignedDuct:
    """The ``run`` that is in the duct of a bank in one row and column, both from 1."""

    row: int
    column: int
    run: str


@dataclass(frozen=True, slots=True)
class Bank:
    """Parallel ducts about the centerline of one run: ``spacing`` is center to center, m.

    ``spacing`` is (across a row, between rows); ``cover`` the concrete outside the ducts, m.
    ``ducts`` are those with a run in them; ``runs`` are other runs that may be pulled through it.
    Spacers stand at most ``spacer_interval`` m apart. The trench is as wide as the bank and
    ``trench_side`` m on each side at its bottom, its sides lean ``trench_slope`` m out for each
    meter up, and ``bedding`` m lie under the bank. None: not given.
    """

    run: str
    rows: int
    columns: int
    spacing: tuple[float, float]
    cover: float
    ducts: tuple[AssignedDuct, ...] = ()
    runs: tuple[str, ...] = ()
    spacer_interval: float | None = None
    trench_side: float | None = None
    trench_slope: float | None = None
    bedding: float | None = None

    def run_in(self, row: int, column: int) -> str:
        """The name of the run in a duct, "" where none is assigned.

        Parameters
        ----------
        row, column : int
            From 1; rows from the top, columns from the left.

        Returns
        -------
        str
            Name of a run.
        """
        return next((d.run for d in self.ducts if (d.row, d.column) == (row, column)), "")


@dataclass(frozen=True, slots=True)
class Job:
    """A whole job.

    Parameters
    ----------
    title : str
        What reports are headed with.
    units : {"US", "SI"}
        System reports are shown in; the records are SI.
    runs : sequence of Run
        The runs.
    banks : tuple of Bank
        Duct banks about runs.
    site : Site
        Meshes and rooms.
    practice : Practice
        Conventions and rules.
    allowances : Allowances
        What a plan allows for.
    path : pathlib.Path, optional
        The model file.
    machines : tuple of Machine
        All of the file, those that no run names too.
    document : TitleBlock
        What documents of the job are headed and signed with.
    examples : tuple of str
        Dotted names of the tables of the file whose values nobody has confirmed, such as
        ``"cable.phase"``; ``""`` stands for the whole file.
    origins : mapping of str to Origin
        Where each figure is from, by its key in the file, such as ``"cable.phase.diameter"`` or
        ``"run.F1.reel_tension"``. Not part of what makes two jobs equal.
    cable_reels : tuple of CableReel
        Reels that the cable of the runs is cut from.
    spread : SpreadInputs, optional
        Which inputs are uncertain, and how. Default: the friction of every conduit, by its range.
    notes : tuple of str
        What a reader of the file must know, such as hidden rows of a workbook that were read.
    """

    title: str = "Job"
    units: str = "SI"
    runs: tuple[Run, ...] = ()
    banks: tuple[Bank, ...] = ()
    site: Site = field(default_factory=Site)
    practice: Practice = field(default_factory=Practice)
    allowances: Allowances = field(default_factory=Allowances)
    path: Path | None = None
    machines: tuple[Machine, ...] = ()
    document: TitleBlock = field(default_factory=TitleBlock)
    examples: tuple[str, ...] = ()
    origins: Mapping[str, Origin] = field(default_factory=dict, compare=False)
    cable_reels: tuple[CableReel, ...] = ()
    spread: SpreadInputs | None = None
    notes: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "runs", tuple(self.runs))
        if self.units not in SYSTEMS:
            raise ValueError(f"units must be one of {SYSTEMS}, not {self.units!r}")

    @property
    def in_workbook(self) -> bool:
        """Whether it was read from a workbook: its tables are rows of sheets."""
        return self.path is not None and self.path.suffix.lower() == ".xlsx"

    def run(self, name: str) -> Run:
        """The run of that name.

        Parameters
        ----------
        name : str
            Its name.

        Returns
        -------
        Run
            The run.

        Raises
        ------
        KeyError
            Where there is none.
        """
        for run in self.runs:
            if run.name == name:
                return run
        raise KeyError(name)
