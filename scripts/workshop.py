"""What the two set-up scripts share: the virtual environment and running things in it.

Standard library only: it runs on a fresh machine with Python 3.11 or newer.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST = (3, 11)


class SetupError(Exception):
    """Something the person at the machine can mend."""


def check_python() -> None:
    """Refuse a Python that is too old, in words."""
    if sys.version_info < OLDEST:
        found = ".".join(map(str, sys.version_info[:3]))
        message = (
            f"Python 3.11 or newer is needed; this is {found}. Run the script with a newer one."
        )
        raise SetupError(message)


def venv_python() -> Path:
    """Return the environment's Python."""
    if os.name == "nt":
        return VENV / "Scripts" / "python.exe"
    return VENV / "bin" / "python"


def run(*words: str | Path, **extra_environment: str) -> int:
    """Run a program from the project's root, show what it prints, and return its exit code."""
    environment = {**os.environ, **extra_environment}
    return subprocess.run([str(word) for word in words], cwd=ROOT, env=environment).returncode


def is_root() -> bool:
    """Return whether this is the superuser of a Unix machine."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def debian_install(package: str) -> bool:
    """Install a Debian package if this is Debian and we may; return whether it worked."""
    if shutil.which("apt-get") is None or not is_root():
        return False
    quiet = {"DEBIAN_FRONTEND": "noninteractive"}
    if run("apt-get", "install", "-y", "-q", package, **quiet) == 0:
        return True
    run("apt-get", "update", "-q", **quiet)
    return run("apt-get", "install", "-y", "-q", package, **quiet) == 0


def make_venv() -> None:
    """Make the environment if it is not there or does not work."""
    if venv_python().exists() and run(venv_python(), "-c", "import pip") == 0:
        return
    shutil.rmtree(VENV, ignore_errors=True)
    try:
        venv.create(VENV, with_pip=True)
    except (subprocess.CalledProcessError, OSError):
        shutil.rmtree(VENV, ignore_errors=True)
        package = f"python3.{sys.version_info.minor}-venv"
        if not debian_install(package):
            message = f"No virtual environment could be made. On Debian: apt-get install {package}"
            raise SetupError(message) from None
        venv.create(VENV, with_pip=True)


def install(extras: str = "", *more: str) -> None:
    """Install the project into the environment unless what it needs was installed before.

    Parameters
    ----------
    extras
        Like ``[test]``; empty for none.
    more
        Packages installed without what they depend on.
    """
    needs = (ROOT / "pyproject.toml").read_bytes() + extras.encode() + repr(more).encode()
    stamp = VENV / f"installed{extras.strip('[]')}.txt"
    digest = hashlib.sha256(needs).hexdigest()
    if stamp.exists() and stamp.read_text() == digest:
        return
    print(f"Installing reachmap{extras} into {VENV} (some minutes the first time) ...", flush=True)
    pip = (venv_python(), "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    if run(*pip, "--editable", f".{extras}") != 0:
        message = "The packages could not be installed; the lines above say why."
        raise SetupError(message)
    if more and run(*pip, "--no-deps", *more) != 0:
        message = f"These could not be installed: {', '.join(more)}."
        raise SetupError(message)
    stamp.write_text(digest)
