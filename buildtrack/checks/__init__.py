"""The rules over readings and workings, and the verdict."""
