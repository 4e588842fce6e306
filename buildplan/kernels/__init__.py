"""Compiled loops over flat arrays: arrays in, arrays out. They know no buildplan type."""
