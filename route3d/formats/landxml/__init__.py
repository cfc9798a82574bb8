"""LandXML alignments as routes."""
