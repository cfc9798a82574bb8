"""Tables of a model file that are marked as examples, in words: nobody has confirmed their values.

A job names them in ``Job.examples``; whatever is made of such a job is headed by the banner.
"""

from __future__ import annotations

from collections.abc import Sequence

WHOLE_FILE = ""
"""What ``Job.examples`` holds where the mark stands at the top of the file."""

BANNER = "EXAMPLE VALUES"

MOST_NAMED = 5
"""Tables named in the banner of a picture, which has one line for it."""


def example_names(examples: Sequence[str], most: int | None = None) -> str:
    """The marked tables, such as ``cable.phase, conduit.duct``; of very many the first ``most``."""
    if WHOLE_FILE in examples:
        return "the whole model file"
    shown = examples if most is None or len(examples) <= most else examples[: most - 1]
    left = len(examples) - len(shown)
    return ", ".join(shown) + (f" and {left} more" if left else "")


def example_banner(examples: Sequence[str], most: int | None = None) -> str:
    """The line over everything made of values nobody has confirmed; empty where there are none."""
    return f"{BANNER}, not confirmed: {example_names(examples, most)}" if examples else ""


def is_example(key: str, examples: Sequence[str]) -> bool:
    """Whether the value of a key, such as ``cable.phase.diameter``, stands in a marked table."""
    return any(
        table == WHOLE_FILE or key == table or key.startswith((f"{table}.", f"{table}["))
        for table in examples
    )
