"""One drawing kit: marks, widths of text, axes and labels; SVG, PDF, DXF and pixels from them.

Every flat drawing of route3d is a sequence of marks in its own unit, pixels or millimeters of
paper. Charts, sketches, sections and the plan-and-profile sheets make marks; a back end
(``svg``, ``pdf``, ``dxf``, ``pixels``) sets them out.
"""
