"""A drawing to correct, made by rule from terrain; the angler's word only once accepted."""

from reachmap.draft.draft import Draft, Drafted, Place, draft_river
from reachmap.draft.settings import DraftSettings

__all__ = ["Draft", "DraftSettings", "Drafted", "Place", "draft_river"]
