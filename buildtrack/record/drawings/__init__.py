"""Drawings of a build as SVG of our own: lines, paths and text with attributes in place; lengths in millimetres."""
