"""One file a check: a part (and its layers) in, findings out."""
