"""The page: one job in the browser, handed over as a file or served live."""
