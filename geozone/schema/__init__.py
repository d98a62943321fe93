"""What every column, word and code that leaves the program means: said once, read by writers, page and README."""
