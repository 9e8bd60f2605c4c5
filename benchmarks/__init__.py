"""Benchmarks of the stages, run by asv from the top of the project."""

import sys
from pathlib import Path

# asv starts each benchmark in a folder of its own: the made rivers lie in tests/.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
