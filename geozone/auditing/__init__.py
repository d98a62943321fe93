"""Switches out there: what was read off them, which slips explain it, and where to go first."""
