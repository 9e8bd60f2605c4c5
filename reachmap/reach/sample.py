"""The sample river that comes with the program."""

from __future__ import annotations

import shutil
from pathlib import Path

from reachmap.base.errors import Fault, MarkupError

NAME = "madeup_river"


def sample_folder() -> Path:
    """Return the sample's folder: inside the installed package, or next to it in a checkout.

    Raises
    ------
    MarkupError
        If this installation came without it.
    """
    package = Path(__file__).resolve().parent.parent
    for home in (package / "data_samples", package.parent / "data_samples"):
        if (home / NAME / "reach.toml").exists():
            return home / NAME
    raise MarkupError(
        [Fault("sample river", "it is not part of this installation", "Install reachmap again")]
    )


def copy_sample(folder: Path) -> None:
    """Copy the sample into a folder; files that are there already stay as they are."""
    source = sample_folder()
    for path in sorted(source.rglob("*")):
        inner = path.relative_to(source)
        made = inner.parts[0].startswith(("written", ".written")) or inner.parts[0] == "cache"
        if path.is_file() and not made:
            target = folder / inner
            target.parent.mkdir(parents=True, exist_ok=True)
            if not target.exists():
                shutil.copyfile(path, target)
