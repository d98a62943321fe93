"""The fewest settings, and the proof."""
