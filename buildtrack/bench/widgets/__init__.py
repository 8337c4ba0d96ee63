"""The widgets of the program, one screen region each."""
