"""Plan and profile of a run on sheets to scale, as SVG, PDF and DXF."""
