"""Keys of the stages' results: each from the values it depends on, not from whole files.

So a change of the flow list leaves the ground's key as it was, and a new rod that of the flows.
"""

from reachmap.base.digests import fingerprint

__all__ = ["fingerprint"]
