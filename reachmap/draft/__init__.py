"""Draft of a river drawing from terrain, for the angler to correct."""

from reachmap.draft.draft import Draft, Drafted, Place, draft_river
from reachmap.draft.settings import DraftSettings

__all__ = ["Draft", "DraftSettings", "Drafted", "Place", "draft_river"]
