"""Floor 6: what is opened, printed and loaded."""
