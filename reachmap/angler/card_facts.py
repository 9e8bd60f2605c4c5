"""Facts of one run at one flow, the parts of its card; `reachmap.text` words them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from reachmap.angler.fly import FlyRow
from reachmap.angler.ladder import Step
from reachmap.angler.pace import Fished
from reachmap.angler.run_plan import RunPlan
from reachmap.angler.wind import Wind
from reachmap.base.words import (
    Cast,
    Confidence,
    HangDown,
    LoopSide,
    Side,
    SwingEnd,
    TipWant,
    WaterKind,
    WayIn,
)
from reachmap.gauge.clarity_data import Clarity

Span = tuple[float, float]
"""The middle of what there is: from the 20 % to the 80 % quantile."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The places to stand on the bank one fishes from.

    `access_m` is how far off the nearest drawn way lies [m]; `blind` at how many of them the room
    behind is not known; `room_m` and `head_m` spans of what is known, None where nothing is;
    `every_head` whether each head owned fits nearly everywhere; `hand_*` what a little more water
    does: how much [m], at which flow [m3/s], how many places it shuts.
    """

    count: int
    side: Side
    way: WayIn
    access_m: float
    deepest_m: float
    blind: int
    room_m: Span | None
    head_m: Span | None
    every_head: bool
    hand_m: float
    hand_flow_m3_s: float
    hand_shuts: int


@dataclass(frozen=True, slots=True)
class Casting:
    """The cast to make: that of most places, with its rod, head, loop and hand.

    `out_m` is how much of the head is out at most places [m], NaN where all of it is; `others` are
    further casts that have room at every place, `all_fit` whether every cast has.
    """

    cast: Cast
    rod: str
    head: str
    out_m: float
    loop: LoopSide
    natural_hand: bool
    others: tuple[Cast, ...]
    all_fit: bool


@dataclass(frozen=True, slots=True)
class Swinging:
    """How it is swung: spans of the cast [m], its angle down from straight across [degrees], time.

    `wait_s` is how long the tip trails on when the line is straight [s], NaN where it hardly does;
    `fed_m` line to feed at most places [m], 0 for none; `hang` what to do at the hang-down, None
    where that is not known.
    """

    cast_m: Span
    angle_deg: Span
    tip: str
    seconds: Span | None
    end: SwingEnd
    wait_s: float
    fed_m: float = 0.0
    hang: HangDown | None = None


@dataclass(frozen=True, slots=True)
class Swimming:
    """How the fly swims in the middle place: speed [m/s], depth and height above the bed [m]."""

    speed_m_s: float
    depth_m: float
    above_m: float
    wants: TipWant | None


@dataclass(frozen=True, slots=True)
class RunCard:
    """Facts of a run at a flow [m3/s].

    `kinds`, `codes` and `prime` are those of the water fished; `side`, `score` and `confidence`
    those of the run's best water, as in the table of runs by flow; `fished` holds length and
    minutes; `easy_out_m` and `careful_out_m` are how far out water of those grades reaches, NaN
    where there is none; `near` are the drawn hazards, what matters most first, as `near_of` returns
    them, `looked` says whether all were looked for within `look_m`; `left_out` counts places left
    out by kind of hazard; `back` is the row with the flow at which the way back closes, None where
    no place can be cut off or it is not known; `by_land` whether every place is on a bank; `plan`
    is how it is fished, `ladder` what every tip would do.
    """

    run: str
    flow: float
    kinds: tuple[WaterKind, ...]
    codes: tuple[str, ...]
    side: Side
    prime: bool
    score: float
    confidence: Confidence
    fished: Fished
    easy_out_m: float
    careful_out_m: float
    near: tuple[Mapping[str, Any], ...]
    looked: bool
    look_m: float
    left_out: Mapping[str, int]
    back: Mapping[str, Any] | None
    by_land: bool
    standing: Standing | None
    casting: Casting | None
    swinging: Swinging | None
    swimming: Swimming | None
    wind: Wind
    clarity: Clarity
    clarity_noted: bool
    fly: FlyRow | None
    plan: RunPlan | None = None
    ladder: tuple[Step, ...] = ()
