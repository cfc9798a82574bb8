"""Tables of survey points as routes: CSV and XLSX."""
