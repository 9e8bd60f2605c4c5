"""Draft of a drawing from terrain, by fixed rules, for the angler to edit."""

from reachmap.draft.draft import Draft, Drafted, Place, draft_river
from reachmap.draft.settings import DraftSettings

__all__ = ["Draft", "DraftSettings", "Drafted", "Place", "draft_river"]
