"""Commands: words typed, one call, printed."""

from reachmap.cli.app import main

__all__ = ["main"]
