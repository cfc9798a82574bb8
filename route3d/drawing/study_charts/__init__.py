"""Pictures of the studies: spread of the inputs, limits along the route, options compared.

Each is a ``Picture``, for SVG, PNG and PDF; the same records give the same bytes.
"""
