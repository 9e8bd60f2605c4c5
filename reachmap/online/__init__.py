"""Public services asked by name: what they offer over a box, and fetching what was chosen."""
