"""The log's form: a page of phone size, served on this computer only; its door is `app`."""
