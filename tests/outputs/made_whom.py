"""A made product that several people may fish: on foot or by boat, from either bank."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from reachmap.angler.short_list import LOOPS, STAND, ListSettings, list_choices
from reachmap.base.words import CastFit, Side, WayIn
from reachmap.markup.plan_parts import Outing
from reachmap.outputs.product import Product
from reachmap.outputs.whom import Whom, other_outings

RULES = ListSettings()


def with_whom(product: Product, own: Outing | None = None, seed: int = 5) -> Product:
    """Return the product with places on both banks of its runs, some reached by boat alone.

    Each run's rate and minutes from either bank are drawn by chance, anew at each flow.
    """
    outing = own or Outing()
    rng = np.random.default_rng(seed)
    water = product.layers["water"]
    names = {str(r): k for k, r in enumerate(product.layers["runs"]["run"])}
    stands = []
    for code, run, label in zip(water["code"], water["run"], water["flow_label"], strict=True):
        if not str(code).startswith("B"):
            continue
        for side in (Side.LEFT, Side.RIGHT, Side.ISLAND):
            if rng.random() < (0.8 if side is Side.ISLAND else 0.3):
                continue
            stands.append(
                dict.fromkeys(STAND)
                | {
                    "flow_label": label,
                    "water": code,
                    "run": run,
                    "side": side.value,
                    "station_m": 300.0 * names[run] + (40.0 if side is Side.LEFT else 60.0),
                    "depth_m": 0.4,
                    "room_m": 12.0,
                    "cast": "double spey",
                    "access": (WayIn.BOAT if rng.random() < 0.3 else WayIn.FOOT).value,
                    "odds": np.nan,
                    "cut_off_m3_s": np.nan,
                    "hazard_distance_m": np.nan,
                    "hand_shuts": False,
                    **dict.fromkeys(LOOPS, CastFit.FITS.value),
                    "rate": rng.uniform(0.02, 0.2),
                    "takes": rng.uniform(30.0, 110.0),
                }
            )
    frame = pd.DataFrame(stands)
    everyone = tuple(_for(product, frame, one) for one in (outing, *other_outings(outing)))
    markup = replace(product.markup, plan=replace(product.markup.plan, outing=outing))
    return replace(product, markup=markup, runs=everyone[0].table, whom=lambda: everyone)


def _for(product: Product, stands: pd.DataFrame, outing: Outing) -> Whom:
    """Return the product as it is for one who fishes."""
    able = np.ones(len(stands), dtype=bool)
    if not outing.boat:
        able &= (stands["access"] != WayIn.BOAT.value).to_numpy()
    if outing.bank is not None:
        able &= stands["side"].isin([outing.bank.value, Side.ISLAND.value]).to_numpy()
    best = stands[able].sort_values("rate").groupby(["run", "flow_label"]).tail(1)
    mine = stands.assign(odds=np.nan)
    mine.loc[best.index, "odds"] = 100.0
    told = best.set_index(["run", "flow_label"])
    table = product.runs.copy()
    keys = pd.MultiIndex.from_arrays([table["run"], table["flow_label"]])
    rate = told["rate"].reindex(keys).to_numpy(dtype=float)
    top = pd.Series(rate).groupby(table["flow_label"].to_numpy()).transform("max").to_numpy()
    table = table.assign(
        in_shape=True,
        why=None,
        odds_hour=rate,
        odds=np.minimum(100.0 * rate / top, 100.0),
        odds_low=60.0 * rate / top,
        odds_high=100.0,
        prime_minutes=told["takes"].reindex(keys).to_numpy(dtype=float),
        prime_start_m=np.where(np.isfinite(rate), 10.0, np.nan),
        prime_end_m=np.where(np.isfinite(rate), 110.0, np.nan),
    )
    water = product.layers["water"]
    listed, choices = list_choices(table, water, mine, outing, RULES)
    return Whom(outing, product.layers["runs"], listed, choices, product.cards, RULES)
