"""Results as tables, pictures and self-contained pages."""
