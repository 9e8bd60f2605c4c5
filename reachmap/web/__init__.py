"""Local web pages: one server with its security, the drawing editor and the trip form."""
