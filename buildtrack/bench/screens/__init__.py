"""The screens of the program, one file each."""
