"""A drawing to correct, made by rule from terrain alone; never the angler's word before they say so."""

from reachmap.draft.draft import Draft, Drafted, Place, draft_river
from reachmap.draft.settings import DraftSettings

__all__ = ["Draft", "DraftSettings", "Drafted", "Place", "draft_river"]
