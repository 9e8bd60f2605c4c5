"""The optional client libraries, imported when they are needed and by nothing else."""

from __future__ import annotations

import importlib
from typing import Any

from reachmap.online.model import AskError, Why


def library(name: str) -> Any:
    """Return a client library.

    Raises
    ------
    AskError
        If it is not installed.
    """
    try:
        return importlib.import_module(name)
    except ImportError:
        raise AskError(Why.NO_LIBRARY, name.partition(".")[0]) from None


def failures(*names: str) -> tuple[type[Exception], ...]:
    """Return what a service's client may raise where it gets no good answer.

    Parameters
    ----------
    names
        Of the library's own errors, like "dataretrieval.exceptions.DataRetrievalError".
    """
    usual: tuple[type[Exception], ...] = (
        *(
            OSError,
            ValueError,
            RuntimeError,
            KeyError,
            TypeError,
            IndexError,
            AttributeError,
            RecursionError,
        ),
    )
    own = []
    for name in names:
        module, _, error = name.rpartition(".")
        try:
            own.append(getattr(importlib.import_module(module), error))
        except (ImportError, AttributeError):
            continue
    return (*usual, *own)
