"""Run cards: ten plain lines on one run at one flow, to be read in the rain."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from statistics import mode

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.card_hazards import (
    hazard_line,
    looked_everywhere,
    more_water_words,
    near_of,
    none_left_words,
)
from reachmap.angler.card_room import room_line, span_words
from reachmap.angler.casts import CASTS
from reachmap.angler.fly import fly_for, fly_words
from reachmap.angler.pace import (
    fished_bank,
    fished_water,
    median_seconds,
    run_minutes,
    spans_of,
    step_length,
)
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.standing import DRY_M
from reachmap.angler.wind import Wind, WindWord
from reachmap.base.units import flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.markup.model import Markup
from reachmap.text.numbers import (
    NOT_KNOWN,
    distance_words,
    length_words,
    list_words,
    speed_words,
    time_words,
)
from reachmap.water.clarity import clarity_by
from reachmap.water.gather import covered_length

LINES = 10
NEAR_M = 8.0
"""A wading zone or bar this near the run's stands belongs to its card; our choice, 5-15."""
ENDS_IN = {
    "hangs": "to the hang-down",
    "stalls": "until it stalls in slow water: strip in there",
    "leaves": "until it leaves its water: strip in there",
    "touches": "and it touches bottom: take a lighter tip or cast more down",
}
"""How most swings end, where it is worth a word."""
KINDS = {
    "inside_bend": "inside bend",
    "seam": "seam",
    "tailout": "tailout",
    "soft_edge": "soft edge",
}


@dataclass(frozen=True, slots=True)
class _Card:
    """What a card is made from: the run's water, the stands of one bank, zones and bars near.

    `near` are the hazards near the whole run, `looked` whether they could be looked for everywhere.
    """

    run: str
    flow: float
    length_m: float
    water: gpd.GeoDataFrame
    stands: gpd.GeoDataFrame
    wading: gpd.GeoDataFrame
    bars: gpd.GeoDataFrame | None
    near: pd.DataFrame
    looked: bool
    markup: Markup
    settings: AnglerSettings

    @property
    def units(self) -> UnitSystem:
        """Return the folder's units."""
        return self.markup.plan.units

    @property
    def clarity_m(self) -> float:
        """Return how far one sees at this flow [m]."""
        return clarity_by(self.flow, self.settings.clarity_m, self.settings.clarity_law)


def run_cards(
    run: str,
    label: str,
    layers: Mapping[str, gpd.GeoDataFrame],
    markup: Markup,
    settings: AnglerSettings,
) -> list[str]:
    """Return ten plain lines on a run at a flow; what is unknown is named.

    Parameters
    ----------
    run
        Name of the run, as in the `runs` layer and the column `run` of `water`.
    label
        Label of the flow.
    layers
        `water`, `stations` and `wading`, `bars` and `hazards_near` if they are there, over one or
        all flows.
    markup, settings
        Kit, units and season; pace, wind, clarity and the fly table.

    Returns
    -------
    list of str
        Ten lines; six where there is no place to cast from, one where the run has no swing water at
        that flow.
    """
    water = _at(layers["water"], label)
    water = water[water["run"] == run]
    if water.empty:
        return [f"{run}: no swing water found at {label}. Look at another flow or another run."]
    stands = _at(layers["stations"], label)
    stands = stands[stands["water"].isin(water["code"])]
    bank = fished_bank(stands)
    near = (bank.geometry if len(bank) else water.geometry).union_all().buffer(NEAR_M)
    bars, hazards = layers.get("bars"), layers.get("hazards_near")
    card = _Card(
        run=run,
        flow=float(water["flow"].iloc[0]),
        length_m=covered_length(spans_of(fished_water(water, bank))),
        water=fished_water(water, bank),
        stands=bank,
        wading=_touching(_at(layers["wading"], label), near),
        bars=_touching(_at(bars, label), near) if bars is not None else None,
        near=near_of(None if hazards is None else _at(hazards, label), water["code"]),
        looked=looked_everywhere(water, stands),
        markup=markup,
        settings=settings,
    )
    makers: tuple[Callable[[_Card], str], ...] = (_head, _access, _stand, _below, _back)
    makers += (_fly,) if bank.empty else (_room, _casts, _swing, _fly, _pace)
    return [make(card) for make in makers]


def _at(frame: gpd.GeoDataFrame, label: str) -> gpd.GeoDataFrame:
    """Return the rows of one flow."""
    return frame[frame["flow_label"] == label]


def _touching(frame: gpd.GeoDataFrame, near: object) -> gpd.GeoDataFrame:
    """Return the rows that meet a shape."""
    return frame[frame.intersects(near)] if len(frame) else frame


def _head(card: _Card) -> str:
    """Return line 1: which run, which flow, what water."""
    kinds = list(dict.fromkeys(KINDS.get(kind, kind) for kind in card.water["kind"]))
    length = distance_words(card.length_m, card.units)
    best = card.water.loc[card.water["score"].idxmax()]
    prime = ", prime water" if (card.water["prime"] == "yes").any() else ""
    where = f"river {best['side']}" if best["side"] != "island" else "by the island"
    return (
        f"{card.run} at {flow_words(card.flow, card.units)}: {list_words(kinds)}, {where}, "
        f"{length}{prime}; score {best['score']:.0f} of 100, {best['confidence']} confidence."
    )


def _access(card: _Card) -> str:
    """Return line 2: how one gets there."""
    if card.stands.empty and (left_out := none_left_words(card.near)):
        return f"{left_out} Water to look at."
    if card.stands.empty:
        return "No place found to stand and cast from at this flow: water to look at."
    side = _bank_words(card.stands["side"].iloc[0])
    way = card.stands["access"].iloc[0]
    if way == "foot":
        places = [one.place for one in card.markup.access]
        middle = card.stands.geometry.union_all().centroid
        far = min(middle.distance(place) for place in places)
        return f"Way in: on foot, {side}; nearest drawn way {distance_words(far, card.units)} off."
    if way == "boat":
        return f"Way in: by boat only, {side}; no way on foot is drawn."
    return f"Way in: {NOT_KNOWN}, none is drawn; these lines are for {side}."


def _stand(card: _Card) -> str:
    """Return line 3: where to stand and how the water wades."""
    deep = float(card.stands["depth_m"].max()) if len(card.stands) else 0.0
    ground = "Stand on dry ground"
    if deep >= DRY_M:
        ground += f" or in up to {length_words(deep, card.units)} of water"
    ground = "" if card.stands.empty else f"{ground}. "
    grades = []
    for grade in ("easy", "careful"):
        zones = card.wading[card.wading["grade"] == grade]
        if len(zones) and zones["out_m"].max() > 0:
            grades.append(f"{grade} to {distance_words(float(zones['out_m'].max()), card.units)}")
    if not grades:
        return f"{ground}No water here grades as wadeable for you: stay out."
    return f"{ground}Wading {', '.join(grades)} out; beyond that stay out."


def _below(card: _Card) -> str:
    """Return line 4: drawn hazards, and places left out for them."""
    far = card.settings.wading.below_m
    return hazard_line(card.near, looked=card.looked, look_m=far, units=card.units)


def _back(card: _Card) -> str:
    """Return line 5: the way back when the water comes up, and what a hand's breadth does."""
    rise = card.settings.hazards.more_water_m
    return f"{_way_back(card)} {more_water_words(card.stands, rise, card.units)}".strip()


def _way_back(card: _Card) -> str:
    """Return when the way back is cut off."""
    words = [
        str(note).partition("Way back ")[2]
        for frame in (card.stands, card.bars)
        if frame is not None
        for note in frame["note"]
        if "Way back cut off" in str(note)
    ]
    if words:
        return f"Way back {words[0].rstrip('.')}."
    if len(card.stands) and (card.stands["side"] != "island").all():
        return "Way back: along the bank at every mapped flow. Step out when the water rises."
    return f"Way back: {NOT_KNOWN}."


def _room(card: _Card) -> str:
    """Return line 6: room behind and the longest head."""
    return room_line(card.stands, card.markup.plan.kit, card.units)


def _casts(card: _Card) -> str:
    """Return line 7: which casts, which side, which hand, what the wind asks."""
    made = _castable(card)
    if made.empty:
        return "Casts: none that you own the gear for has room here."
    first = mode(made["cast"])
    rows = made[made["cast"] == first]
    lists = [set(str(text).split(", ")) - {""} for text in made["casts"]]
    always = [cast for cast in _in_order(lists) if all(cast in one for one in lists)]
    rest = "no other fits at every place"
    if len(always) >= len(CASTS) - 1:
        rest = "every cast has room"
    elif set(always) - {first}:
        rest = f"at every place also {', '.join(cast for cast in always if cast != first)}"
    return (
        f"Cast: {first} with {mode(rows['head'])}, loop {mode(rows['loop_side'])}, "
        f"{mode(rows['hand'])} hand; {rest}. {_wind(card.settings.wind, card.units)}"
    )


def _in_order(lists: list[set[str]]) -> list[str]:
    """Return all casts that occur, in the table's order."""
    found = set().union(*lists)
    return [cast.value for cast in CASTS if cast.value in found]


def _wind(wind: Wind, units: UnitSystem) -> str:
    """Return what the wind was taken to be."""
    if np.isfinite(wind.towards_rad):
        unit = "mph" if units is UnitSystem.US else "m/s"
        return f"Wind {from_si(wind.speed_m_s, unit):.0f} {unit} as forecast."
    return "Calm assumed." if wind.word is WindWord.CALM else f"Wind {wind.word.value}."


def _castable(card: _Card) -> gpd.GeoDataFrame:
    """Return the stands from which some cast may have room."""
    return card.stands[card.stands["cast"] != ""]


def _swing(card: _Card) -> str:
    """Return line 8: how to swing it."""
    swung = _castable(card).dropna(subset=["cast_m", "angle_deg"])
    if swung.empty:
        return "Swing: none worked out, for want of a place with room to cast."
    cast, angle = span_words(swung["cast_m"], card.units), _range(swung["angle_deg"], "{:.0f}")
    tip = mode(swung["tip"])
    time = swung["swing_s"].dropna()
    end = ENDS_IN.get(mode(swung["swing_end"]), "to its end")
    seconds = f"{_range(time, '{:.0f}')} s {end}" if len(time) else "time not known"
    wait = swung["wait_s"].dropna()
    still = (
        f"; then wait {wait.median():.0f} s, the tip still trails"
        if len(wait) >= 0.5 * len(swung) and wait.median() >= 1
        else ""
    )
    return f"Swing: cast {cast}, {angle} deg down from straight across, {tip}; {seconds}{still}."


def _fly(card: _Card) -> str:
    """Return line 9: how the fly swims, and which."""
    settings = card.settings
    swims = _castable(card).dropna(subset=["fly_speed_m_s"])
    words = ""
    if len(swims):
        speed = speed_words(float(swims["fly_speed_m_s"].median()), card.units)
        deep = length_words(float(swims["fly_depth_m"].median()), card.units)
        water = length_words(float(card.water["depth_m"].median()), card.units)
        words = f"Fly swims {speed}, {deep} down in {water}"
        wants = {one for one in swims["tip_wants"] if one}
        words += f" (wants a {mode(list(wants))} tip)" if len(wants) == 1 else ""
        words += ". "
    fly = fly_words(fly_for(card.clarity_m, settings.flies), card.clarity_m, card.units)
    return words + fly + ("" if settings.clarity_told else " Clarity is assumed: nobody said.")


def _pace(card: _Card) -> str:
    """Return line 10: steps, time, and what nobody knows."""
    settings = card.settings.pace
    step = step_length(card.settings.season, settings, clarity_m=card.clarity_m)
    seconds = median_seconds(card.stands, settings)
    if _castable(card).empty:
        return "Pace: none, for want of a place with room to cast."
    minutes = run_minutes(card.length_m, seconds, step)
    blind = int(card.stands["room_m"].isna().sum()) if len(card.stands) else 0
    unknown = (
        f" Not known: what stands behind {blind} of {len(card.stands)} places." if blind else ""
    )
    return (
        f"Step {length_words(step, card.units)}, about {seconds:.0f} s a cast: "
        f"{time_words(minutes)} once through.{unknown}"
    )


def _bank_words(side: str) -> str:
    """Return which bank."""
    return "from the island or bar" if side == "island" else f"from river {side}"


def _range(values: pd.Series, form: str) -> str:
    """Return the middle span of numbers."""
    low, high = (form.format(float(values.quantile(q))) for q in (0.2, 0.8))
    return low if low == high else f"{low}-{high}"
