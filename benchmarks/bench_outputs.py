"""How long each kind of output takes to write: 900 m, four flows, with an ensemble and a log."""

from __future__ import annotations

import tempfile
from pathlib import Path

from reachmap.outputs.choices import PLAIN
from reachmap.outputs.write import WRITERS
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_log import with_log
from tests.outputs.made_product import made_product


class WriteEach:
    """Each writer by itself, as a build calls it."""

    params = [name for name, _ in WRITERS]
    param_names = ["kind"]
    timeout = 300

    def setup(self, kind: str) -> None:
        self.product = with_log(with_doubt(made_product()))
        self.folder = tempfile.TemporaryDirectory()
        self.target = Path(self.folder.name) / kind
        self.target.mkdir()

    def time_write(self, kind: str) -> None:
        dict(WRITERS)[kind](self.product, self.target, PLAIN)

    def teardown(self, kind: str) -> None:
        self.folder.cleanup()
