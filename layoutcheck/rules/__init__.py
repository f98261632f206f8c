"""The rules: one documented class in a file of its own for each."""
