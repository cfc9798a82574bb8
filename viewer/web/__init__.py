"""The live page: one job in the browser, edited, inspected and handed to the crew."""
