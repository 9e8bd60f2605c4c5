"""The trip form: a page of phone size, served on this computer only."""
