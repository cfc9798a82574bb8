"""Results in words: tables, JSON, workbooks and the sheets the crew carries."""
