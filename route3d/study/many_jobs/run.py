"""Many jobs answered and written down as the answers come."""

from __future__ import annotations

import time
from collections.abc import Callable

from route3d.study.many_jobs.answer import RUNS_AT_ONCE, FileAnswer, JobFile
from route3d.study.many_jobs.feed import Feed, Runner
from route3d.study.many_jobs.ledger import Ledger
from route3d.study.many_jobs.pace import Pace


def answer_all(
    ledger: Ledger, runner: Runner, told: Callable[[FileAnswer, Pace], None] = lambda *_: None
) -> None:
    """Answer every file that the ledger wants, and write each answer into it.

    ``told`` is called with each answer after it is written. Whatever ends this early, the answers
    so far stand in the ledger.
    """
    feed = Feed(ledger.wanted())
    begun, kept = time.monotonic(), ledger.done
    for answer in runner(feed):
        asked = answer.asked
        for first in range(0, len(answer.left), RUNS_AT_ONCE):
            some = answer.left[first : first + RUNS_AT_ONCE]
            feed.again(JobFile(asked.number, asked.file, some))
        ledger.add(answer)
        seconds = time.monotonic() - begun
        told(answer, Pace(ledger.whole, kept, ledger.done, len(ledger.bad), seconds))
