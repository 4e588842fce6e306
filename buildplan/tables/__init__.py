"""Data as TOML, each number with its source, and the one typed loader."""
