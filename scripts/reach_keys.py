"""Write the tables of reach.toml into docs/reach-folder.md: python -m scripts.reach_keys."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from reachmap.markup.config.render import key_table, number_table, party_table

TARGET = Path(__file__).resolve().parent.parent / "docs" / "reach-folder.md"

TABLES = {"keys": key_table, "numbers": number_table, "party": party_table}
"""What stands between the marks of each name."""


def page(text: str) -> str:
    """Return the page with its tables made anew."""
    for name, table in TABLES.items():
        begin, end = f"<!-- {name}: python -m scripts.reach_keys -->", f"<!-- end of {name} -->"
        block = "\n".join([begin, *table(), end])
        text, count = re.subn(
            f"{re.escape(begin)}.*?{re.escape(end)}", lambda _, block=block: block, text,
            flags=re.DOTALL,
        )  # fmt: skip
        if count != 1:
            msg = f"{TARGET} wants the marks of {name} once, has them {count} times"
            raise ValueError(msg)
    return text


if __name__ == "__main__":
    TARGET.write_text(page(TARGET.read_text(encoding="utf-8")), encoding="utf-8")
    sys.stdout.write(f"Wrote {TARGET}\n")
