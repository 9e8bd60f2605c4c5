"""Local server: drawing editor, trip form, viewer; its security."""
