"""Switching programmes through the year: drift, hours, foolish nights, timetables."""
