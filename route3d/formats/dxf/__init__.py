"""DXF drawings: routes in and out, and plan-and-profile sheets."""
