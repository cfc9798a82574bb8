"""From solved pulls to decisions: which end feeds, and what to change where neither does."""
