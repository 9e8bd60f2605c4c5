"""Messages of the outputs that can be translated, in one file: python -m scripts.messages.

Writes reachmap/locale/reachmap.pot, the template a translator starts from; a language is one file
beside it, like de.po. `--update de` brings such a file up to date, or begins it.
"""

from __future__ import annotations

import argparse
import ast
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from reachmap.text.plain_words import MEANT, SPOKEN

ROOT = Path(__file__).resolve().parent.parent / "reachmap"
TEMPLATE = ROOT / "locale" / "reachmap.pot"
METHODS = [("**.html", "jinja2")]
FIRST = datetime(2030, 1, 1, tzinfo=UTC)
"""Date in the template's head: always the same, so that only messages change the file."""

HEAD = "# Messages of reachmap. Names in braces are filled in: keep them as they are."

WORDS = "reachmap/base/words.py"

KEYWORDS = {"tr": None, "noted": None, "tr_count": (1, 2)}


def messages() -> Catalog:
    """Return all messages with the files they stand in."""
    found = Catalog(project="reachmap", charset="utf-8", creation_date=FIRST, header_comment=HEAD)
    options = {"**.html": {"silent": "false", "trimmed": "true"}}
    for file in sorted(ROOT.rglob("*.py")):
        for message in called(file.read_text(encoding="utf-8")):
            found.add(message, None, [(f"reachmap/{file.relative_to(ROOT).as_posix()}", 0)])
    for path, _, message, comments, _ in extract_from_dir(ROOT, METHODS, options, KEYWORDS):
        found.add(message, None, [(f"reachmap/{path}", 0)], auto_comments=comments)
    for words in SPOKEN:
        for word in words:
            found.add(word.value, None, [(WORDS, 0)])
    for words in MEANT:
        for word in words:
            found.add(word.meaning, None, [(WORDS, 0)])
    return found


def called(source: str) -> Iterator[str | tuple[str, ...]]:
    """Yield the messages of a module, those inside the arguments of another message too."""
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
            continue
        if node.func.id not in KEYWORDS:
            continue
        wanted = KEYWORDS[node.func.id] or (1,)
        forms = [one.value for one in node.args[: len(wanted)] if isinstance(one, ast.Constant)]
        if len(forms) == len(wanted):
            yield forms[0] if len(forms) == 1 else tuple(forms)


def written(catalogue: Catalog, path: Path) -> None:
    """Write a catalogue without line numbers: they change with every edit and tell nobody."""
    with path.open("wb") as file:
        write_po(file, catalogue, include_lineno=False, sort_output=True, width=98)


def main() -> int:
    """Write the template, and bring catalogues up to date."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--update", nargs="*", default=[], metavar="LOCALE")
    asked = parser.parse_args()
    now = messages()
    written(now, TEMPLATE)
    for locale in asked.update:
        path = TEMPLATE.with_name(f"{locale}.po")
        old = Catalog(locale=locale)
        if path.is_file():
            with path.open("rb") as file:
                old = read_po(file, locale=locale)
        old.update(now)
        written(old, path)
    return 0


if __name__ == "__main__":
    sys.exit(main())
