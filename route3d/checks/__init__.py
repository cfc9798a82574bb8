"""Checks of a run against limits, each answer one frozen Finding with its source."""

from route3d.checks.finding import Finding
from route3d.checks.run import check_pull, check_run

__all__ = ["Finding", "check_pull", "check_run"]
