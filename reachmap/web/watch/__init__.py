"""The viewer that renews the map: a page of our own around it, and the watch of the folder."""
