"""The desktop window: what it shows, what each key changes, and what lies flat over it."""
