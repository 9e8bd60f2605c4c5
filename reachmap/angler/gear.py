"""Choice of rod and head for a tip and a cast; independent of their order in the file."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from reachmap.angler.dloop import lifted_head, tail_length
from reachmap.angler.settings import AnglerSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.markup.kit import Head, Kit, Rod, Tip

SPARE_M = 0.5
"""A head counts as wholly outside the rod tip if at most this much is inside [m]; our choice,
0.2-1."""
LEAST_OUT_M = 2.0
"""No less than this of a head is outside the rod tip at any cast [m]; our choice, 1-3."""


@dataclass(frozen=True)
class Gear:
    """A kit with the rules by which rods and heads are chosen from it."""

    kit: Kit
    settings: AnglerSettings
    memo: dict[tuple[int, float], int] = field(default_factory=dict)
    rods: dict[tuple[int, float], int] = field(default_factory=dict)

    @cached_property
    def turned(self) -> BoolArray:
        """Return which head turns over which tip, shape (tips, heads).

        By the family's fastest sinking tip; a tip that no head owned turns over is left out by
        `usable`, but where that leaves none every head turns over every tip.
        """
        limits = self.settings.plan.turns_over
        found = np.array(
            [
                [tip.sink_m_s <= limits.get(head.family, np.inf) + 1e-9 for head in self.kit.heads]
                for tip in self.kit.tips
            ]
        )
        return found if found.any() else np.ones_like(found)

    @cached_property
    def usable(self) -> IntArray:
        """Return the tips that some head turns over, by number, lightest first."""
        heavy = [tip.length_m * tip.sink_m_s for tip in self.kit.tips]
        key = [(heavy[i], tip.length_m, tip.name) for i, tip in enumerate(self.kit.tips)]
        order = sorted(range(len(key)), key=lambda i: key[i])
        return np.array([i for i in order if self.turned[i].any()], dtype=np.int32)

    def head_ranks(self, tip: int, cast_m: float) -> IntArray:
        """Return the rank of every head for a tip and a cast [m], 0 best.

        A head that does not turn over the tip comes last. Then the angler's own order; where none
        is given, the longest head that is wholly outside the rod tip at that cast with the longest
        rod that lifts it, then shorter and last longer ones; in wind the shortest.
        """
        windy = self.settings.wind.speed_m_s >= self.settings.plan.windy_m_s

        def key(number: int) -> tuple[object, ...]:
            head = self.kit.heads[number]
            over = self.out_by(head, tip, cast_m)
            length = head.length_m if windy or over > SPARE_M else -head.length_m
            return (
                not self.turned[tip, number],
                _place(head.name, self.kit.prefer_heads),
                over > SPARE_M and not windy,
                length,
                head.name,
            )

        return _ranks([key(number) for number in range(len(self.kit.heads))])

    def out_by(self, head: Head, tip: int, cast_m: float) -> float:
        """Return how much of a head stays in the rings at a cast [m], with the shortest rod."""
        rod = min(rod.length_m for rod in self.kit.rods)
        tail = tail_length(self.kit.tips[tip], self.kit.angler.leader_m)
        return rod + head.length_m + tail - cast_m

    def head_for(self, tip: int, cast_m: float) -> int:
        """Return the head one would take for a tip and a cast [m], with room for any."""
        key = tip, round(cast_m, 1)
        if key not in self.memo:
            self.memo[key] = int(np.argmin(self.head_ranks(tip, cast_m)))
        return self.memo[key]

    def rod_ranks(self, tip: int, cast_m: float, *, is_open: bool) -> IntArray:
        """Return the rank of every rod for a tip and a cast [m], 0 best.

        The angler's own order; where none is given the rod whose length is nearest to the wanted
        one: the cast over `casts_per_rod`, more for a heavy tip and more in the open.
        """
        plan = self.settings.plan
        wanted = cast_m / plan.casts_per_rod
        wanted += plan.heavy_rod_m * (self.kit.tips[tip].sink_m_s >= plan.heavy_sink_m_s)
        wanted += plan.open_rod_m * is_open

        def key(rod: Rod) -> tuple[object, ...]:
            return _place(rod.name, self.kit.prefer_rods), abs(rod.length_m - wanted), rod.name

        return _ranks([key(rod) for rod in self.kit.rods])

    def rod_for(self, tip: int, cast_m: float) -> int:
        """Return the rod one would take for a tip and a cast [m] with room for any."""
        key = tip, cast_m
        if key not in self.rods:
            self.rods[key] = int(np.argmin(self.rod_ranks(tip, cast_m, is_open=False)))
        return self.rods[key]

    def outside(self, cast_m: FloatArray, tip: IntArray) -> FloatArray:
        """Return how much of each head is outside the rod tip [m], shape (n, rods, heads).

        `cast_m` and `tip` (n,) are the casts. At least `LEAST_OUT_M` of a head is out.
        """
        rods = np.array([rod.length_m for rod in self.kit.rods])[None, :, None]
        heads = np.array([head.length_m for head in self.kit.heads])[None, None, :]
        free = cast_m[:, None, None] - rods - self.tails[tip][:, None, None]
        return np.asarray(np.minimum(heads, np.maximum(free, LEAST_OUT_M)))

    @cached_property
    def tails(self) -> FloatArray:
        """Return the length of line beyond the head with every tip [m], leader included."""
        return np.array([tail_length(one, self.kit.angler.leader_m) for one in self.kit.tips])

    def out_of(self, cast_m: FloatArray, tip: IntArray) -> FloatArray:
        """Return how much of the head one would take is outside the rod tip [m], shape (k,)."""
        head = np.array(
            [self.head_for(int(t), float(c)) for t, c in zip(tip, cast_m, strict=True)], dtype=int
        )
        rod = min(rod.length_m for rod in self.kit.rods)
        length = np.array([one.length_m for one in self.kit.heads])[head]
        return np.asarray(
            np.minimum(length, np.maximum(cast_m - rod - self.tails[tip], LEAST_OUT_M))
        )

    def lifted(self, rod: Rod, head: Head) -> bool:
        """Return whether a rod lifts a head."""
        most = lifted_head(head.family, rod.length_m, self.settings.room)
        return head.length_m <= most + 1e-6


def sinks(tip: Tip) -> bool:
    """Return whether a tip sinks."""
    return tip.sink_m_s > 0


def _place(name: str, order: tuple[str, ...]) -> int:
    """Return the place of a name in the angler's order, beyond its end where it is not there."""
    return order.index(name) if name in order else len(order)


def _ranks(keys: list[tuple[object, ...]]) -> IntArray:
    """Return the rank of each key, 0 the smallest."""
    order = sorted(range(len(keys)), key=lambda i: keys[i])
    ranks = np.empty(len(keys), dtype=np.int32)
    ranks[order] = np.arange(len(keys))
    return ranks
