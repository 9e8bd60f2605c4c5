"""The day's list as a GPS route: upper and lower end of each prime stretch, in order."""

from __future__ import annotations

import geopandas as gpd

from reachmap.base.crs import WGS84
from reachmap.base.language import tr
from reachmap.outputs.day_list import day_list
from reachmap.outputs.handheld.content import Route, Spot, flow_title, letter_of
from reachmap.outputs.handheld.heights import heights_at
from reachmap.outputs.handheld.names import DAY_LETTER, LONGEST, end_name, flow_letter
from reachmap.outputs.product import Product
from reachmap.text.angler_text import plain_ascii
from reachmap.text.handheld import end_of
from reachmap.text.odds import EQUAL, RELATIVE
from reachmap.text.whom import list_for_words

GROUP = "day"


def day_route(product: Product, label: str, *, long_names: bool = False) -> list[Route]:
    """Return the day's list at a flow as one route; [] where no listed run has a known place."""
    stops = [
        (stop, end, place)
        for stop in day_list(product, label)
        for end, place in (("top", stop.start), ("foot", stop.end))
        if place is not None
    ]
    if not stops:
        return []
    places = gpd.GeoSeries([place for *_, place in stops], crs=product.markup.crs).to_crs(WGS84)
    heights = heights_at(product, [place for *_, place in stops], label)
    letter, at = flow_letter(letter_of(product, label)), label if long_names else ""
    spots = [
        Spot(
            round(point.x, 7),
            round(point.y, 7),
            end_name(f"{DAY_LETTER}{stop.number:02d}", end, letter, words=stop.run, label=at),
            end_of(end, stop.run),
            f"{end_of(end, tr('the prime stretch'))}. {stop.words}",
            GROUP,
            height,
        )
        for (stop, end, _), point, height in zip(stops, places, heights, strict=True)
    ]
    about = tr(
        "Runs to fish at {flow}, in walking order; {relative}. {equal} Straight lines between "
        "places to stand: no path, and no promise that one gets along. {whose}",
        flow=flow_title(product, label),
        relative=tr(RELATIVE),
        equal=tr(EQUAL),
        whose=list_for_words(product.markup.plan.outing),
    )
    name = (
        plain_ascii(tr("Day {flow}", flow=label), LONGEST)
        if long_names
        else f"{DAY_LETTER}{letter}"
    )
    return [Route(tuple(spots), name, tr("runs in walking order"), about, GROUP)]
