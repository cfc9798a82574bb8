"""During and after the pull: readings, what they should be, what explains them, and the record."""
