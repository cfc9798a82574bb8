"""Pictures of a route: scene data (numpy) -> meshes -> surfaces; route3d never imports this."""
