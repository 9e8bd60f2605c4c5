"""Lets `python -m reachmap` stand for the command."""

from reachmap.cli import main

main()
