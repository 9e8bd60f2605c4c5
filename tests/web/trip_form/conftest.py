"""The log's form, served, and a real browser to fill it in."""

from __future__ import annotations

import math
from contextlib import contextmanager
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from starlette.applications import Starlette
from starlette.routing import Mount

from reachmap.base.words import UnitSystem
from reachmap.web.security import SecurityMiddleware
from reachmap.web.serve import new_token
from reachmap.web.trip_form.app import TripFormContext, log_routes
from tests.browser import running_browser
from tests.web.editor.serving import running

NOW = datetime(2031, 1, 5, 17, 5, tzinfo=ZoneInfo("America/Vancouver"))


def gauged(when: datetime) -> float:
    """A made record: 40 m3/s in the forenoon of 5 January 2031, unknown at any other time."""
    known = (when.year, when.month, when.day) == (2031, 1, 5) and when.hour < 12
    return 40.0 if known else math.nan


def desk_of(folder, *, units=UnitSystem.US):
    return TripFormContext(
        folder=folder,
        units=lambda: units,
        now=lambda: NOW,
        flow_at=gauged,
        runs=lambda: ["Bend 2 left", "Ledge"],
    )


def app_of(session, token):
    return SecurityMiddleware(
        Starlette(routes=[Mount(f"/{token}", routes=log_routes(session))]), token
    )


@contextmanager
def serving_form(folder, **more):
    token = new_token()
    with running(app_of(desk_of(folder, **more), token), token) as served:
        yield served


@pytest.fixture
def served(tmp_path):
    with serving_form(tmp_path) as one:
        yield one


@pytest.fixture(scope="package")
def browser():
    with running_browser() as one:
        yield one
