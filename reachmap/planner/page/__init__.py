"""The page of the coming days."""

from reachmap.planner.page.page import Look, days_page

__all__ = ["Look", "days_page"]
