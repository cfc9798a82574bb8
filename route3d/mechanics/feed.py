"""The reels: how hard they are to turn, and what the guide into the conduit makes of it."""

from __future__ import annotations

from route3d.model.run import Run
from route3d.standards.practice import reel_back_length


def reel_count(run: Run) -> int:
    """How many reels feed together: as given, else one for each cable.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    int
    """
    given = None if run.reel is None else run.reel.count
    return run.cables.count if given is None else given


def reel_drag(run: Run) -> float:
    """Tension in the cables leaving the reels that turns them without any brake, summed, N.

    As given for the reel: a force for each reel, or for each reel a length of its own cable, which
    makes that length of the whole set. Else 25 ft of it (``T0 = 25 w``, from memory;
    docs/theory.md section 8).

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    float
        N

    References
    ----------
    docs/theory.md section 8.
    """
    reel = run.reel
    if reel is not None and reel.drag_force is not None:
        return reel.drag_force * reel_count(run)
    given = None if reel is None else reel.drag_length
    return (reel_back_length().value if given is None else given) * run.cables.weight


def drag_assumed(run: Run) -> bool:
    """True where the file gives no drag and the length of cable from memory is taken.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    bool
    """
    reel = run.reel
    return reel is None or (reel.drag_force is None and reel.drag_length is None)


def feed_factor(run: Run) -> float:
    """Tension entering the conduit over the tension leaving the reels.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    float
        1 or more.

    References
    ----------
    docs/theory.md section 8.
    """
    return 1.0 if run.reel is None else run.reel.feed_factor
