"""Pictures: one frame laid out, drawn off screen and written as PNG."""
