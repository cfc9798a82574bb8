"""Published tables as data with their sources, and lookups that answer in SI.

Every figure stands in ``data/*.toml`` with a status (seen, recalled, derived, estimated); a lookup
returns it as a :class:`Fact` that still carries that status and its citation. One module per
subject: ``conduits``, ``fill``, ``conductors``, ``attachments``, ``risers``, ``friction``,
``bends``, ``boxes``, ``practice``; ``search`` looks through all of them at once.
"""

from route3d.standards.source import Fact, Quantity, Source, Status
from route3d.standards.tables import NotInTable

__all__ = ["Fact", "NotInTable", "Quantity", "Source", "Status"]
