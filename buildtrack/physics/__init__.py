"""Pure functions on floats in the units their names say: one file per subject, the source in each docstring."""
