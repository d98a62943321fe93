"""The job file, and the run from top to bottom."""
