"""Set up reachmap and build the sample river: python3 scripts/demo.py."""

from __future__ import annotations

import sys

from workshop import ROOT, SetupError, check_python, install, make_venv, run, venv_python


def main() -> int:
    """Make the environment, install, build the sample and say which page to open."""
    try:
        check_python()
        make_venv()
        install()
    except SetupError as error:
        print(error, file=sys.stderr)
        return 2
    return run(venv_python(), "-m", "reachmap", "demo", ROOT / "demo")


if __name__ == "__main__":
    sys.exit(main())
