"""Run tasks on a Dask scheduler; needs the optional extra `dask`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from typing import Any

import xarray as xr

from reachmap.base.errors import BuildError, Fault
from reachmap.flow.engine.pieces import Mapper, Task
from reachmap.flow.engine.serialise import from_bytes, run_serialised, to_bytes

PATIENCE_S = "10s"
"""Time limit for the scheduler to answer."""


def on_scheduler(address: str) -> Mapper:
    """Return a mapper that runs tasks on the Dask scheduler at an address like tcp://host:8786.

    The workers need the same version of this package. Each task is one flow on one piece, solved on
    one core, so its bytes do not depend on where it runs (on processors of one kind).

    Raises
    ------
    BuildError
        If the extra is not installed, or nothing answers at the address.
    """

    def run(work: Callable[[Task], xr.Dataset], tasks: Sequence[Task]) -> list[xr.Dataset]:
        with _connected(address) as client:
            # Sent to the workers ahead of the calls: the scheduler does not carry the ground.
            sent = client.scatter([to_bytes(task) for task in tasks], hash=False)
            futures = client.map(partial(run_serialised, work), sent, pure=False)
            return [from_bytes(one) for one in client.gather(futures)]

    with checked_client(address):  # faults of the scheduler are raised before any work is done
        pass
    return run


@contextmanager
def checked_client(address: str) -> Iterator[Any]:
    """Yield a Dask client of the scheduler at an address, whose workers have this very version.

    Raises
    ------
    BuildError
        As for `on_scheduler`.
    """
    with _connected(address) as client:
        _check_workers(client, address)
        yield client


def _connected(address: str) -> Any:
    """Return a client, not yet checked."""
    try:
        from dask.distributed import Client
    except ImportError:
        raise BuildError([_not_installed()]) from None
    try:
        return Client(address, timeout=PATIENCE_S, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, TimeoutError, ValueError):
        raise BuildError([_no_answer(address)]) from None


def _check_workers(client: Any, address: str) -> None:
    """Refuse a scheduler without workers, or with workers of another version."""
    try:
        client.wait_for_workers(1, timeout=PATIENCE_S)
        versions = set(client.run(_version).values())
    except TimeoutError:
        raise BuildError([_no_workers(address)]) from None
    except ImportError:
        versions = {"none"}
    if versions != {_version()}:
        raise BuildError([_other_version(versions)])


def _version() -> str:
    """Return the version of this package where it is called."""
    return str(import_module("reachmap").__version__)


def _not_installed() -> Fault:
    """Return the fault of a missing extra."""
    return Fault(
        "--scheduler",
        "the part that talks to a Dask scheduler is not installed",
        'Install it with pip install "reachmap[dask]", or leave --scheduler out',
    )


def _no_answer(address: str) -> Fault:
    """Return the fault of a scheduler that does not answer."""
    return Fault(
        "--scheduler",
        f"no Dask scheduler answers at {address!r}",
        "Check the address (like tcp://host:8786) and that the scheduler runs",
    )


def _no_workers(address: str) -> Fault:
    """Return the fault of a scheduler without workers."""
    return Fault(
        "--scheduler",
        f"the Dask scheduler at {address!r} has no workers",
        "Start some: dask worker ADDRESS, where reachmap is installed",
    )


def _other_version(versions: set[str]) -> Fault:
    """Return the fault of workers that would work out other numbers."""
    return Fault(
        "--scheduler",
        f"its workers have reachmap {', '.join(sorted(versions))}, this is {_version()}",
        "Install the same version everywhere",
    )
