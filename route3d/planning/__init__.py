"""From solved pulls to decisions: which end feeds, and what to change where neither does."""

from route3d.planning.evaluate import JobResult, RunResult, evaluate

__all__ = ["JobResult", "RunResult", "evaluate"]
