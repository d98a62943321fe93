"""Files and outlines of strangers turned into checked tables with legal time."""
