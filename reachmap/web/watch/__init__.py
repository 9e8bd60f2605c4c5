"""Viewer that reloads the map after every build: a page with the map in a frame."""
