"""A model file as a workbook (XLSX): its sheets and columns, reading and writing."""
