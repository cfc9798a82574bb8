"""IFC models: routes in and out."""
