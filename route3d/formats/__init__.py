"""Routes and meshes from and to the files of other programs; ``catalog`` is the list of formats."""
