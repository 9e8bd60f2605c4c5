"""Run cards: the facts of one run at one flow; `reachmap.text` words them in ten lines."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import mode
from typing import Any

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from reachmap.angler.card_facts import Casting, RunCard, Span, Standing, Swimming, Swinging
from reachmap.angler.card_layers import BACK, CardLayers
from reachmap.angler.casts import CASTS
from reachmap.angler.fly import fly_for
from reachmap.angler.ladder import Step, ladder_of
from reachmap.angler.near_runs import left_out_by_kind, looked_everywhere, near_of
from reachmap.angler.pace import bank_fished, fished_at, fished_water
from reachmap.angler.run_plan import run_plan
from reachmap.angler.settings import AnglerSettings
from reachmap.base.arrays import FloatArray
from reachmap.base.grouped import Rows, known, known_median, present
from reachmap.base.schema_angler import CASTS as CAST_COLUMNS
from reachmap.base.words import (
    Cast,
    CastFit,
    Confidence,
    HangDown,
    LoopSide,
    Side,
    SwingEnd,
    TipWant,
    WadeGrade,
    WaterKind,
    WayIn,
)
from reachmap.gauge.clarity_data import BasisKind, Clarity, ClarityBasis
from reachmap.markup.model import Markup

NEAR_M = 8.0
"""A wading zone or bar this near the run's stands belongs to its card; our choice, 5-15."""

WITH_ROOM = (CastFit.FITS, CastFit.TIGHT)
"""How a cast fits where there is room for it."""


def run_card(
    run: str, label: str, layers: CardLayers, markup: Markup, settings: AnglerSettings
) -> RunCard | None:
    """Return the card of a run at a flow; None where it has no swing water there.

    Parameters
    ----------
    run
        Name of the run, as in the `runs` layer and the column `run` of `water`.
    label
        Label of the flow.
    layers
        The layers, put together.
    markup, settings
        Kit and access; pace, wind, clarity and the fly table.
    """
    water, stands = layers.water.of(run, label), layers.stations.of(run, label)
    if not len(water):
        return None
    bank = bank_fished(stands)
    ground = shapely.union_all((bank if len(bank) else water)["geometry"])
    near = ground.buffer(NEAR_M)
    wading = _touching(layers.wading.of(label), near)
    bars = None if layers.bars is None else _touching(layers.bars.of(label), near)
    met = [] if layers.hazards is None else near_of(layers.hazards.of(run, label))
    fished = fished_water(water, bank)
    best = water[np.argmax(water["score"])]
    flow = float(water["flow"][0])
    clarity, noted = _clarity(flow, settings)
    castable = bank[present(bank["cast"])]
    return RunCard(
        run=run,
        flow=flow,
        kinds=tuple(dict.fromkeys(WaterKind(kind) for kind in fished["kind"])),
        codes=tuple(str(code) for code in fished["code"]),
        side=Side(best["side"]),
        prime=bool(fished["prime"].any()),
        score=float(best["score"]),
        confidence=Confidence(best["confidence"]),
        fished=fished_at(water, stands, settings),
        easy_out_m=_out(wading, WadeGrade.EASY),
        careful_out_m=_out(wading, WadeGrade.CAREFUL),
        near=tuple(met),
        looked=looked_everywhere(water, stands),
        look_m=settings.wading.below_m,
        left_out=left_out_by_kind(met),
        back=_back(bank, bars),
        by_land=bool(len(bank) and (bank["side"] != Side.ISLAND).all()),
        standing=_standing(bank, ground.centroid, markup) if len(bank) else None,
        casting=_casting(castable) if len(castable) else None,
        swinging=_swinging(castable),
        swimming=_swimming(castable),
        wind=settings.wind,
        clarity=clarity,
        clarity_noted=noted,
        fly=fly_for(clarity.metres, settings.flies),
        plan=run_plan(castable),
        ladder=_ladder(run, label, layers, castable),
    )


def _ladder(run: str, label: str, layers: CardLayers, castable: Rows) -> tuple[Step, ...]:
    """Return what every tip would do in a run; empty where that is not known."""
    if layers.ladder is None or not len(castable):
        return ()
    return ladder_of(layers.ladder.of(run, label), castable)


def _clarity(flow: float, settings: AnglerSettings) -> tuple[Clarity, bool]:
    """Return the visibility at a flow [m3/s], and whether it was observed at such a flow."""
    if settings.clarity_law is not None:
        return settings.clarity_law.at(flow), settings.clarity_law.noted(flow)
    kind = BasisKind.GIVEN if settings.clarity_given else BasisKind.NONE
    return Clarity(settings.clarity_m, math.nan, math.nan, ClarityBasis(kind)), True


def _touching(rows: Rows, near: BaseGeometry) -> Rows:
    """Return the rows that meet a shape."""
    return np.asarray(rows[shapely.intersects(rows["geometry"], near)])


def _out(wading: Rows, grade: WadeGrade) -> float:
    """Return how far out water of a grade reaches [m]; NaN where there is none."""
    far = known(wading["out_m"][wading["grade"] == grade])
    return float(far.max()) if (far > 0).any() else math.nan


def _back(stands: Rows, bars: Rows | None) -> Mapping[str, Any] | None:
    """Return the first place, or else bar, whose way back some mapped flow cuts off."""
    for rows in (stands, bars):
        if rows is None:
            continue
        cut = rows[~np.isnan(rows["cut_off_m3_s"])]
        if len(cut):
            return {name: float(cut[0][name]) for name in BACK}
    return None


def _standing(stands: Rows, middle: Point, markup: Markup) -> Standing:
    """Return what is known of the places to stand; `middle` is the middle of them all."""
    room, head = known(stands["room_m"]), known(stands["head_max_m"])
    owned = max(one.length_m for one in markup.plan.kit.heads)
    return Standing(
        count=len(stands),
        side=Side(stands["side"][0]),
        way=WayIn(stands["access"][0]),
        access_m=min((middle.distance(one.place) for one in markup.access), default=math.nan),
        deepest_m=_largest(stands["depth_m"]),
        blind=len(stands) - len(room),
        room_m=_span(room),
        head_m=_span(head),
        every_head=len(head) == len(stands) and float(np.quantile(head, 0.2)) >= owned,
        hand_m=_largest(stands["hand_m"]),
        hand_flow_m3_s=-_largest(-stands["hand_flow_m3_s"]),
        hand_shuts=int(stands["hand_shuts"].sum()),
    )


def _casting(castable: Rows) -> Casting:
    """Return the cast to make."""
    first = Cast(mode(castable["cast"]))
    rows = castable[castable["cast"] == first]
    out = known(rows["head_out_m"])
    always = [cast for cast in CASTS if np.isin(castable[CAST_COLUMNS[cast]], WITH_ROOM).all()]
    return Casting(
        cast=first,
        rod=mode(rows["rod"]),
        head=mode(rows["head"]),
        out_m=known_median(rows["head_out_m"]) if len(out) > 0.5 * len(rows) else math.nan,
        loop=LoopSide(mode(rows["loop_side"])),
        natural_hand=bool(mode(rows["natural_hand"])),
        others=tuple(cast for cast in always if cast is not first),
        all_fit=len(always) >= len(CASTS) - 1,
    )


def _swinging(castable: Rows) -> Swinging | None:
    """Return how it is swung; None where no swing was worked out."""
    swung = castable[np.isfinite(castable["cast_m"] + castable["angle_deg"])]
    cast, angle = _span(swung["cast_m"]), _span(swung["angle_deg"])
    if cast is None or angle is None:
        return None
    wait = known(swung["wait_s"])
    hangs = swung["hang_down"][present(swung["hang_down"])]
    trails = len(wait) >= 0.5 * len(swung) and np.median(wait) >= 1
    return Swinging(
        cast_m=cast,
        angle_deg=angle,
        tip=mode(swung["tip"]),
        seconds=_span(known(swung["swing_s"])),
        end=SwingEnd(mode(swung["swing_end"])),
        wait_s=float(np.median(wait)) if trails else math.nan,
        fed_m=known_median(swung["fed_m"]) if (swung["fed_m"] > 0).mean() > 0.5 else 0.0,
        hang=HangDown(mode(hangs)) if len(hangs) else None,
    )


def _swimming(castable: Rows) -> Swimming | None:
    """Return how the fly swims; None where that is not known."""
    swims = castable[~np.isnan(castable["fly_speed_m_s"])]
    if not len(swims):
        return None
    wants = set(swims["tip_wants"][present(swims["tip_wants"])])
    return Swimming(
        speed_m_s=float(np.median(swims["fly_speed_m_s"])),
        depth_m=known_median(swims["fly_depth_m"]),
        above_m=known_median(swims["above_bed_m"]),
        wants=TipWant(wants.pop()) if len(wants) == 1 else None,
    )


def _span(values: FloatArray) -> Span | None:
    """Return the middle span of numbers; None where there is none."""
    if not len(values):
        return None
    low, high = np.quantile(values, (0.2, 0.8))
    return float(low), float(high)


def _largest(values: FloatArray) -> float:
    """Return the largest of what is known; NaN where nothing is."""
    numbers = known(values)
    return float(numbers.max()) if len(numbers) else math.nan
