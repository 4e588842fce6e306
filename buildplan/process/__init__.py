"""From a part to hours and grams: layers, paths, motion, supports, vat exposure."""
