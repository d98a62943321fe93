"""Fewest columns that cover all rows, whatever rows and columns are: bounds that prove, searches that find."""
