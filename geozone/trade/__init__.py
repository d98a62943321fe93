"""Frozen records of what the trade keys in: keypads, settings, programmes, a switch's own clock."""
