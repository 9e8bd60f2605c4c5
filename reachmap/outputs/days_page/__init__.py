"""The page of the coming days."""

from reachmap.outputs.days_page.page import Look, days_page

__all__ = ["Look", "days_page"]
