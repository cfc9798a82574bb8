"""The rigging of a pull drawn to scale, plan and side view, as SVG, PDF and DXF."""
