"""The version of this program."""

from __future__ import annotations

VERSION = "0.1.0"
"""As in pyproject.toml; in reports, files of Datasets and stamps of builds."""
