"""The map page and the terminal. Draws finished answers."""
