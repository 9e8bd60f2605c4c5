"""Settings of the uncertainty stage, each default with its reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from reachmap.uncertainty.model_error import ModelError


@dataclass(frozen=True, slots=True)
class UncertaintySettings:
    """Settings of the uncertainty stage.

    Parameters
    ----------
    members
        How many beds and roughnesses are drawn; our choice, 8-30: a dozen gives a spread to within
        a fifth of itself.
    seed
        Of the draw: the same evidence gives the same members.
    depth_same_m, speed_same_m_s, same_share
        A member agrees with the map at a cell where depth and speed differ by no more than these,
        or than this share of the mapped one. Our choice: half a foot, half a foot a second, a
        quarter.
    model
        Error of the flow model itself.
    gauge_sd
        Standard deviation of the logarithm of the flow that truly runs at a reading: each member
        carries its own. Our choice, 0.05-0.1: ratings are held to 5 to 10 %.
    dry_m
        Water thinner than this counts as dry [m]; as the flow stage's.
    reach_m, margin_m
        How far from the mapped water, and how high above it, a member may flood ground [m]; our
        choice.
    holding
        What the chance that at least half of a piece of water is there is made from (see
        `confidence.chance_of_half`): a constant, and weights of the log odds of its mean
        `suits_chance`, its score, the logarithm of its area over the river's width squared, and the
        log odds of its mean `agreement`. Fitted by logistic regression to 1,317 pieces on five
        uneven made rivers (docs/uncertainty.md): score and agreement add nothing to the odds and
        the size.
    good_from, fair_from
        Chance from which a piece is called good or fair; our choice: of those called good two of
        three held on a river that took no part in the fit.
    """

    members: int = 12
    seed: int = 1
    depth_same_m: float = 0.15
    speed_same_m_s: float = 0.15
    same_share: float = 0.25
    model: ModelError = field(default_factory=ModelError)
    gauge_sd: float = 0.07
    dry_m: float = 0.01
    reach_m: float = 25.0
    margin_m: float = 1.0
    holding: tuple[float, float, float, float, float] = (0.06, 0.79, 0.0, 0.51, 0.0)
    good_from: float = 0.7
    fair_from: float = 0.5
