"""Thousands of jobs, answered side by side."""
