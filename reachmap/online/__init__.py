"""Public services asked by name: what they offer and what is fetched."""
