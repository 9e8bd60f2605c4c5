"""A guide's day as a page, a route for a GPS and a calendar."""
