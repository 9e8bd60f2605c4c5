"""The season review as a page that stands alone."""
