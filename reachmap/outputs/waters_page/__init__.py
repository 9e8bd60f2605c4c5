"""The page of several home waters: which to drive to on which day."""

from reachmap.outputs.waters_page.page import waters_page
from reachmap.outputs.waters_page.write import PAGE, write_week

__all__ = ["PAGE", "waters_page", "write_week"]
