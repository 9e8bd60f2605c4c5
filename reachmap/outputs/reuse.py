"""Files of the last build that a new one would write alike: they are carried over, not rewritten.

A writer gives each such file a digest of everything it is made of. The file of the last build is
carried where it was made of the same and still holds the very bytes that were written.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.generation import CACHE, is_intact

RECORD = "outputs.json"
"""Name of the record in the cache folder: of each file the digests of its inputs and its bytes."""


@dataclass(slots=True)
class Reuse:
    """The last build's files in a written folder, and what the new ones are made of.

    Parameters
    ----------
    folder
        The written folder.
    new
        The folder of the next generation.
    before
        Of each file of the last build, by its name in the folder: digests of inputs and bytes.
    inputs
        Digest of the inputs of each file asked for, by name.
    carried
        Names of the files that were carried over.
    """

    folder: Path
    new: Path
    before: Mapping[str, tuple[str, str]]
    inputs: dict[str, str] = field(default_factory=dict)
    carried: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, folder: Path, new: Path) -> Reuse:
        """Return that of a folder; a record that cannot be read counts as none."""
        before: dict[str, tuple[str, str]] = {}
        with suppress(OSError, ValueError, TypeError, AttributeError):
            stored = json.loads((folder / CACHE / RECORD).read_text(encoding="utf-8"))
            before = {str(name): (str(a), str(b)) for name, (a, b) in stored.items()}
        return cls(folder, new, before)

    def carry(self, path: Path, inputs: str) -> bool:
        """Return whether a file of the next generation was carried over from the last build.

        Parameters
        ----------
        path
            Where it shall be, in the next generation.
        inputs
            Digest of everything it is made of.
        """
        name = path.relative_to(self.new).as_posix()
        self.inputs[name] = inputs
        made_of, digest = self.before.get(name, ("", ""))
        if made_of != inputs or not is_intact(self.folder, name, digest):
            return False
        link_or_copy(self.folder / name, path)
        self.carried.append(name)
        return True

    def keep(self, digests: Mapping[str, str]) -> None:
        """Write the record for the next build; `digests` are those of the files written."""
        if not (self.folder / CACHE).is_dir():
            return
        rows = {name: [made_of, digests[name]] for name, made_of in self.inputs.items()}
        text = json.dumps(rows, indent=0)
        write_aside(
            self.folder / CACHE / RECORD, lambda path: path.write_text(text, encoding="utf-8")
        )


def link_or_copy(source: Path, target: Path) -> None:
    """Put a file in a second place: a hard link, or a copy where the file system has none."""
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(source, target)
    except OSError:  # like that of a memory stick
        shutil.copy2(source, target)
