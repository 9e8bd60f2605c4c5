"""The order of the stages and their cache; nothing else."""
