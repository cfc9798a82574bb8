"""What holds in every test.

Property tests draw the same examples on every run, so that a red CI means a change. None has a
deadline: how fast the machine is now is the business of the benchmarks. A finding of the
product has the quantity that its rule has.
"""

from __future__ import annotations

import gc
import os
import sys
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

# Before numpy is loaded, and for every process that a test starts: two runners on two cores leave
# no room for threads of linear algebra, which then wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import settings

from route3d.checks.finding import Finding
from tests.support.finding_quantities import quantities_of

# Half the usual number of examples: the suite is run on two cores within ten minutes.
settings.register_profile("same", derandomize=True, database=None, deadline=None, max_examples=50)
settings.load_profile("same")

HERE = Path(__file__).parent
SAMPLED = tomllib.loads((HERE / "sampled_cases.toml").read_text(encoding="utf-8"))


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Without ``-n``, ``--dist`` of pyproject means nothing, and would forbid to time a test."""
    if not config.option.numprocesses and not config.option.tx:
        config.option.dist = "no"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave most cases of the tests in ``sampled_cases.toml`` to ``-m many``.

    None is left out where tests are asked for by name. Files with windows and browsers, the longest
    to run, come first: at the end all processes then have something to do.
    """
    items.sort(key=lambda item: not item.nodeid.startswith("tests/viewer/"))
    if any("::" in asked for asked in config.args):
        return
    cases: dict[tuple[str, str], list[pytest.Item]] = defaultdict(list)
    for item in items:
        file, _, name = item.nodeid.partition("::")
        cases[file, name.partition("[")[0]].append(item)
    for (file, name), of_test in cases.items():
        count, every = SAMPLED.get(file, {}).get(name), len(of_test)
        if count is None or count >= every:
            continue
        kept = {round(i * (every - 1) / max(count - 1, 1)) for i in range(count)}
        for number, item in enumerate(of_test):
            if number not in kept:
                item.add_marker(pytest.mark.many)


def pytest_collection_finish() -> None:
    """Ten thousand tests are no garbage, and each search for some took an eighth of all time."""
    gc.collect()
    gc.freeze()


@pytest.fixture(autouse=True, scope="session")
def _every_finding_in_the_quantity_of_its_rule() -> Any:
    made = Finding.__init__

    def checked(self: Finding, *values: Any, **named: Any) -> None:
        made(self, *values, **named)
        if not sys._getframe(1).f_globals["__name__"].startswith("route3d."):
            return  # a test may make a finding of any rule
        known = quantities_of(self.rule)
        assert not known or self.quantity in known, f"{self.rule} in {self.quantity}, not {known}"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Finding, "__init__", checked)
        yield
