"""Write docs/report.md from the JSON Schema of report.json: python scripts/report_page.py."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "docs" / "report.md"
SCHEMA = ROOT / "reachmap" / "outputs" / "report.schema.json"

BEGINNING = """# report.json

Each build writes `written/report.json`: what was used, what came out, how well the water balances
and how sure it is. Its JSON Schema (draft 2020-12) is `reachmap/outputs/report.schema.json`, in the
package too; a test holds the report of a build to it, and this page is made from it
(`python scripts/report_page.py`). Numbers are SI; `null` says that nobody knows. Read the keys you
need and leave the others: later versions may add some, and raise `format` only where one changes
its meaning.

```python
import json
from importlib.resources import files

schema = json.loads(files("reachmap.outputs").joinpath("report.schema.json").read_text("utf-8"))
```
"""


def page() -> str:
    """Return the page."""
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    parts = [BEGINNING, *_table("", schema, set(schema["required"]))]
    for name, one in schema["properties"].items():
        inner = _inner(one)
        if inner is not None:
            parts += [f"## `{name}`\n", *_table(name, inner, set(inner.get("required", ())))]
    return "\n".join(parts)


def _inner(one: dict[str, Any]) -> dict[str, Any] | None:
    """Return the schema of an object's keys, of a list's items or of one of several."""
    for candidate in (one, one.get("items", {}), *one.get("oneOf", ())):
        if candidate.get("properties"):
            return candidate
    return None


def _table(name: str, schema: dict[str, Any], required: set[str]) -> list[str]:
    """Return a table of keys."""
    about = "" if not name else schema.get("description", "")
    rows = [
        f"| `{key}` | {_kind(one)} | {one.get('description', '')}"
        f"{'' if key in required else ' May be missing.'} |"
        for key, one in schema["properties"].items()
    ]
    lead = [f"{about}\n"] if about else []
    return [*lead, "| key | holds | |", "|---|---|---|", *rows, ""]


def _kind(one: dict[str, Any]) -> str:
    """Return what a key holds."""
    if "oneOf" in one:
        return " or ".join(_kind(each) for each in one["oneOf"])
    kind = one.get("type", "")
    kinds = [kind] if isinstance(kind, str) else list(kind)
    if kinds == ["array"]:
        return f"list of {_kind(one['items'])}"
    if kinds == ["object"] and isinstance(one.get("additionalProperties"), dict):
        return f"object of {_kind(one['additionalProperties'])}"
    return " or ".join(kinds)


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8")
    print(f"Wrote {TARGET}")
