"""Which inputs of a job are uncertain, and how: the table [spread] of a model file."""

from __future__ import annotations

from dataclasses import dataclass, field

SHAPES = ("normal", "lognormal", "uniform", "triangular", "history")

LOW, HIGH = 0.05, 0.95
"""The percentiles that ``low`` and ``high`` stand for."""


@dataclass(frozen=True, slots=True)
class InputKind:
    """One kind of uncertain input: the ``quantity`` of its numbers, and what ``of`` may name.

    ``least`` is the smallest value there is, None where any is, and ``most`` the largest sane one,
    in SI. ``offset`` says that a number is as built minus planned, ``share`` that a percentage is
    the value itself and not a share of the planned one. ``geometry`` says that the path must be
    solved anew for each value.
    """

    quantity: str
    of: str
    least: float | None
    most: float
    offset: bool = False
    share: bool = False
    geometry: bool = False


INPUTS: dict[str, InputKind] = {
    "friction": InputKind("ratio", "conduit", 0.0, 2.0),
    "cable weight": InputKind("weight", "cable", 0.0, 5000.0),
    "cable diameter": InputKind("diameter", "cable", 0.0, 2.0, geometry=True),
    "reel drag": InputKind("force", "", 0.0, 1e6),
    "bend radius": InputKind("radius", "bend", 0.0, 1e5, geometry=True),
    "bend angle": InputKind("angle", "bend", None, 0.6, offset=True, geometry=True),
    "ovality": InputKind("ratio", "conduit", 0.0, 0.5, share=True, geometry=True),
}
"""Every kind of input that may be uncertain, as the model file calls it."""


@dataclass(frozen=True, slots=True)
class SpreadAmount:
    """A number of a spread: SI, or where ``relative`` a share of the planned value.

    ``typed`` is how the model file has it, for messages.
    """

    value: float
    relative: bool = False
    typed: str = field(default="", compare=False)

    def __str__(self) -> str:
        """As typed, or in SI."""
        return self.typed or (f"{100 * self.value:g}%" if self.relative else f"{self.value:g}")


@dataclass(frozen=True, slots=True)
class UncertainInput:
    """One uncertain input.

    Parameters
    ----------
    input : str
        A key of ``INPUTS``.
    of : str
        Conduit, cable or bend (name of its point); empty for all of a run.
    shape : str
        One of ``SHAPES``.
    low, high : SpreadAmount, optional
        5th and 95th percentile.
    middle : SpreadAmount, optional
        50th percentile of normal and lognormal; each half then has its own width.
    peak : SpreadAmount, optional
        Most likely value of triangular.
    mean, deviation : SpreadAmount, optional
        Mean and standard deviation, in place of percentiles. Default of the mean: as planned.
    """

    input: str
    of: str = ""
    shape: str = "lognormal"
    low: SpreadAmount | None = None
    high: SpreadAmount | None = None
    middle: SpreadAmount | None = None
    peak: SpreadAmount | None = None
    mean: SpreadAmount | None = None
    deviation: SpreadAmount | None = None

    @property
    def label(self) -> str:
        """What reports and correlations call it: ``friction of duct``."""
        return f"{self.input} of {self.of}" if self.of else self.input

    def meets(self, other: UncertainInput) -> bool:
        """Whether both are of the same thing: by its name, or one of them of all there are."""
        return self.input == other.input and (self.of == other.of or not (self.of and other.of))


@dataclass(frozen=True, slots=True)
class InputCorrelation:
    """Correlation ``value`` of two inputs, named as ``UncertainInput.label`` is."""

    first: str
    second: str
    value: float


@dataclass(frozen=True, slots=True)
class SpreadInputs:
    """The table [spread]: uncertain inputs and how they go together.

    ``friction_correlation`` is that of the friction of every two conduits, where no entry of
    ``correlations`` gives it.
    """

    inputs: tuple[UncertainInput, ...] = ()
    correlations: tuple[InputCorrelation, ...] = field(default=())
    friction_correlation: float = 0.0
