"""Logs of a pull read: tables, the page's file, written numbers; cleaned, with every decision."""
