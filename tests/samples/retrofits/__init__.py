"""Small invented builds for the shorter checklists, entered item by item in the order of the work."""
