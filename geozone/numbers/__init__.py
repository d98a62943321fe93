"""Arrays in, arrays out: the sun, legal clocks, intervals of time."""
