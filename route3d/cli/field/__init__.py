"""Readings of a pull against its plan: logs, comparison, friction, forecast, record, history."""
