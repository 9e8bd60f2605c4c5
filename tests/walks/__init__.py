"""A newcomer's ways from an empty folder to an opened map, by commands and buttons alone."""
