"""What the page says about one thing."""

from reachmap.outputs.webmap.popups.cards import Card

__all__ = ["Card"]
