"""Options of GDAL hold for a while and leave nothing behind."""

from __future__ import annotations

import pyogrio
import pytest

from reachmap.base.gdal_options import gdal_options


def test_options_hold_inside_and_are_put_back_even_after_a_fault():
    def now():
        return [
            pyogrio.get_gdal_config_option(name)
            for name in ("OGR_SQLITE_SYNCHRONOUS", "OGR_CURRENT_DATE")
        ]

    def fail_inside(before):
        with gdal_options({"OGR_SQLITE_SYNCHRONOUS": "OFF", "OGR_CURRENT_DATE": None}):
            assert now() != before
            assert now()[1] == before[1]
            msg = "disk"
            raise OSError(msg)

    before = now()
    with pytest.raises(OSError, match="disk"):
        fail_inside(before)
    assert now() == before
