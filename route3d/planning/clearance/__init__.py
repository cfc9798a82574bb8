"""How near every run of a job comes to building meshes, to other runs and to itself."""
