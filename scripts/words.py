"""Write docs/words.md from the words of the program: python scripts/words.py."""

from __future__ import annotations

import inspect
import sys
from pathlib import Path

from reachmap.base import words, words_runs

TARGET = Path(__file__).resolve().parent.parent / "docs" / "words.md"

HEAD = """# The words

One word, one meaning, everywhere: in code, on pages, in files. This page is made from
`reachmap/base/words.py` and `words_runs.py` by `python scripts/words.py`.
"""


def page() -> str:
    """Return the page."""
    parts = [HEAD]
    for name, kind in (vars(words) | vars(words_runs)).items():
        if inspect.isclass(kind) and issubclass(kind, words.Word) and kind is not words.Word:
            about = (inspect.getdoc(kind) or "").splitlines()[0]
            rows = "\n".join(f"| {word.value} | {word.meaning} |" for word in kind)
            parts.append(f"## {name}\n\n{about}\n\n| word | meaning |\n|---|---|\n{rows}\n")
    return "\n".join(parts)


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8")
    sys.stdout.write(f"Wrote {TARGET}\n")
