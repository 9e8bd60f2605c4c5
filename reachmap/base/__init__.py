"""Floor 0: the language all floors speak."""
