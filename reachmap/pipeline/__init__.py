"""The order of the stages and their cache; what runs several stages at once."""
