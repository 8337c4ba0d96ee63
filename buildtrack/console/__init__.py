"""The commands without a screen: the same facts as on the bench, as plain text or JSON."""
