"""A drawing to correct, made by rule from terrain, beside the angler's."""

from reachmap.draft.draft import Draft, Drafted, Place, draft_river
from reachmap.draft.settings import DraftSettings

__all__ = ["Draft", "DraftSettings", "Drafted", "Place", "draft_river"]
