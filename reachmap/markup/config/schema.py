"""The one schema of reach.toml.

Reader, docs (docs/reach-folder.md), a new folder's reach.toml and the switch of units come from it.
"""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import create_model

from reachmap.base.words import UnitSystem
from reachmap.markup.config import rules
from reachmap.markup.config.keys import Keys
from reachmap.markup.config.kinds import Text, Whole, Word
from reachmap.markup.config.own_numbers import SECTIONS, tunables
from reachmap.markup.config.sections import (
    RULES,
    SIGHTINGS,
    AnglerKeys,
    CastKeys,
    DemKeys,
    EvidenceKeys,
    FlightKeys,
    FlowKeys,
    FlyKeys,
    GaugeKeys,
    GpsKeys,
    HeadKeys,
    ImageryKeys,
    OutingKeys,
    PagesKeys,
    PreferKeys,
    RiverKeys,
    RodKeys,
    SeasonKeys,
    SiteKeys,
    SounderKeys,
    TipKeys,
)

FORMAT = 1
"""Version of the reach folder format."""


# fmt: off
def _own(section: str) -> type[Keys]:
    """Return the model of a section of tunable numbers; NaN and () where they are not given."""
    extra = {"wading": {"rules": RULES}, "clarity": {"sightings": SIGHTINGS}}.get(section, {})
    numbers = {one.key: one for one in tunables().values() if one.section == section}
    kinds: dict[str, Any] = {key: (Annotated[float, one], math.nan) for key, one in numbers.items()}
    kinds |= {key: (Annotated[tuple, one], ()) for key, one in extra.items()}
    made = create_model(section, __base__=Keys, **kinds)
    made.about, made.commented = SECTIONS[section], True
    return made


PLAIN: dict[str, type[Keys]] = {
    "river": RiverKeys, "flows": FlowKeys, "gauge": GaugeKeys, "dem": DemKeys,
    "imagery": ImageryKeys,
    "sounder": SounderKeys, "evidence": EvidenceKeys, "season": SeasonKeys, "angler": AnglerKeys,
    "outing": OutingKeys, "gps": GpsKeys, "site": SiteKeys,
    "pages": PagesKeys,
    "prefer": PreferKeys,
}
"""Sections that occur once."""

KIT: dict[str, type[Keys]] = {"rod": RodKeys, "head": HeadKeys, "tip": TipKeys}
TABLES: dict[str, type[Keys]] = {"flight": FlightKeys, "cast": CastKeys, "fly": FlyKeys}
"""Sections that may stand several times: the kit, and own tables."""

OWN: dict[str, type[Keys]] = {section: _own(section) for section in SECTIONS}
"""Sections of tunable numbers."""


class TopKeys(Keys):
    """The keys before any section."""

    format: Annotated[int, Whole(
        "version of this kind of folder; leave it as it is", f"{FORMAT}", low=FORMAT, high=FORMAT,
        wrong="format is {}",
        fix=f"This program reads format {FORMAT}: update it, or correct the number",
        missing=("it does not say its format", f"Begin it with the line: format = {FORMAT}"))]
    name: Annotated[str, Text(
        "as it shall stand on maps and sheets", '"My home reach"',
        missing=("the reach has no name", 'Add name = "..." near its beginning'))]
    units: Annotated[UnitSystem, Word(
        '"us": feet, feet a second, cfs. "metric": metres, m/s, m3/s', ('"us"', '"metric"'),
        words=tuple(UnitSystem), blank=UnitSystem.US,
        missing=("it does not say its units",
                 'Add units = "us" (feet, cfs) or units = "metric" (metres, m3/s)'))]
    crs: Annotated[str, Text(
        "only if your files do not say theirs, or to work in another than UTM", '"EPSG:32610"',
        check=rules.known_crs, commented=True,
        left_out="the UTM zone of the river inside; files without a CRS are faults")] = ""


class ReachKeys(TopKeys):
    """All of reach.toml."""

    river: RiverKeys
    flows: FlowKeys
    gauge: GaugeKeys
    dem: DemKeys
    sounder: SounderKeys
    imagery: ImageryKeys
    evidence: EvidenceKeys
    season: SeasonKeys
    angler: AnglerKeys
    outing: OutingKeys
    gps: GpsKeys
    site: SiteKeys
    pages: PagesKeys
    prefer: PreferKeys
    rod: tuple[RodKeys, ...] = ()
    head: tuple[HeadKeys, ...] = ()
    tip: tuple[TipKeys, ...] = ()
    flight: tuple[FlightKeys, ...] = ()
    cast: tuple[CastKeys, ...] = ()
    fly: tuple[FlyKeys, ...] = ()


SCHEMA: type[ReachKeys] = create_model(
    "SCHEMA", __base__=ReachKeys, **{name: (kind, ...) for name, kind in OWN.items()}
)  # type: ignore[call-overload]
"""The model that pydantic checks reach.toml against."""
# fmt: on
