"""Assembles map, shell, style, scripts and data into one self-contained page."""

from __future__ import annotations

import base64
import html
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import jinja2
import numpy as np

from reachmap.base.language import language, shown, tr
from reachmap.base.picture import MapPicture
from reachmap.base.words import Confidence
from reachmap.outputs.palette import BY_KIND, FISHING
from reachmap.outputs.product import Product
from reachmap.outputs.theme.templates import page_environment
from reachmap.outputs.webmap import assets
from reachmap.outputs.webmap.book import Parts, book
from reachmap.outputs.webmap.budget import MapPlan, MapSettings
from reachmap.outputs.webmap.encode import json_for_script
from reachmap.outputs.webmap.folium_map import View, rendered
from reachmap.outputs.webmap.gauge_scale import drawn_for, gauge_values, latest
from reachmap.outputs.webmap.policy import policy
from reachmap.outputs.webmap.runs import picked
from reachmap.outputs.webmap.still import still_words
from reachmap.outputs.webmap.unknown import SURE_BOUNDS
from reachmap.text import cautions
from reachmap.text.map_cards import sure_words
from reachmap.text.map_page import METHODS, NO_ENSEMBLE, UNCERTAINTY_KEY, gauge_sentence
from reachmap.text.numbers import number_of, text_of
from reachmap.text.page_site import SITE
from reachmap.text.plain_words import in_words
from reachmap.text.survey import survey_note
from reachmap.text.terms import DRAWN
from reachmap.text.wading_terms import terms_of

LONGEST_TITLE = 80
"""Characters of the reach's name in the browser's title bar; the page has the full name."""

OWN_LINKS = '<link rel="icon" href="data:,">'
SITE_LINKS = (
    '<meta name="robots" content="noindex, nofollow, noarchive">'
    '<link rel="manifest" href="manifest.webmanifest"><link rel="icon" href="icon-192.png">'
    '<link rel="apple-touch-icon" href="icon-192.png"><meta name="theme-color" content="#0d3b46">'
)
"""Links in the head of a page: none, or the companion files of a site."""

_TOKEN = re.compile(r"@@(\w+)@@")
_BIDI = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class PageMaker:
    """Maker of the pages of one product, holding everything common to them.

    `frame` is the page as `frame_of` returns it, `bare` the same without own imagery; None where
    there is none.
    """

    product: Product
    parts: Parts
    frame: str
    plan: MapPlan
    settings: MapSettings
    still: Callable[[int], MapPicture]
    bare: str | None = None

    def page(self, flows: Sequence[int], *, with_log: bool = False, imagery: bool = True) -> str:
        """Return the page of some flows as HTML.

        Parameters
        ----------
        flows
            Indices of the flows, ascending: all of them, or one.
        with_log
            Whether the angler's own log is in it: not in pages that are sent on.
        imagery
            Whether the angler's own imagery is in it: not in pages that are sent on either.
        """
        start = flows.index(first_flow(self.product)) if len(flows) > 1 else 0
        shown = imagery and self.bare is not None
        frame = self.frame if shown or self.bare is None else self.bare
        return _filled(frame, self._typed(flows, start, with_log, shown))

    def _typed(
        self, flows: Sequence[int], start: int, with_log: bool, imagery: bool
    ) -> dict[str, str]:
        """Return what takes the place of tokens and may hold what a user typed, made harmless."""
        data = json_for_script(book(self.parts, flows, start, with_log=with_log))
        return {
            "data": f'<script type="application/json" id="reach-data">{data}</script>',
            "title": _escaped(self._title(flows)),
            "body": self._shell(flows, start, with_log, imagery),
        }

    def _title(self, flows: Sequence[int]) -> str:
        """Return the page's title."""
        name = _BIDI.sub("", self.product.markup.plan.name)
        name = name if len(name) <= LONGEST_TITLE else name[: LONGEST_TITLE - 1] + "…"
        return name if len(flows) > 1 else f"{name}, {self._flow_words(flows[0])}"

    def _flow_words(self, index: int) -> str:
        """Return a flow in the angler's units."""
        return self.parts.words(index, self.product.markup.plan.units)

    def _ensemble(self) -> list[str]:
        """Return the sentences on the ensemble, or that there was none."""
        if self.product.doubt is None:
            return [tr(NO_ENSEMBLE)]
        values = self.product.report.get("ensemble")
        words = values.get("words") if isinstance(values, Mapping) else None
        return [*_lines(words), tr(UNCERTAINTY_KEY)]

    def _shell(self, flows: Sequence[int], start: int, with_log: bool, imagery: bool) -> str:
        """Return the page around the map."""
        report, markup = self.product.report, self.product.markup
        own = [
            position
            for position, index in enumerate(flows)
            if self.product.labels[index] in self.parts.own
        ]
        flow_words = [
            {
                "label": self.product.labels[index],
                "words": self._flow_words(index),
                "other": self.parts.other_words(index),
                "at": position,
                "own": position in own,
                "on": position == start,
            }
            for position, index in enumerate(flows)
        ]
        sure, spread = page_confidence(
            report.get("confidence"), [self.product.labels[flows[position]] for position in own]
        )
        return _template().render(
            name=markup.plan.name,
            river=markup.main.name,
            flows=flow_words,
            now=flow_words[start],
            start=start,
            single=len(flows) == 1,
            others=len(self.product.labels) > 1,
            runs=[
                (run, [(position, run.at[flows[position]]) for position in own])
                for run in self.parts.runs
            ],
            letters=", ".join(
                f"{BY_KIND[kind].letter} {tr(DRAWN[kind]).lower()}" for kind in FISHING
            ),
            units=gauge_values(self.product)["units"],
            with_log=with_log and self.product.log is not None,
            unplaced=(report.get("log") or {}).get("words", "") if with_log else "",
            gauge=gauge_words(self.product),
            preview=tr(cautions.PREVIEW) if self.product.preview else "",
            invented=tr(cautions.INVENTED) if report.get("invented") else "",
            terms=terms_of(report, markup.plan.units),
            still=still_words(self.still(flows[start]), markup.plan.units),
            still_today=picked(self.parts.runs, flows[start]),
            still_switches=tr(cautions.STILL_SWITCHES),
            still_unknown=tr(cautions.STILL_UNKNOWN),
            short_caution=tr(cautions.SHORT),
            cautions=[tr(line) for line in cautions.CAUTIONS],
            sure=sure_words(sure),
            sure_at=spread,
            ensemble=self._ensemble(),
            asks=_suggestions(self.product),
            method=tr(METHODS.get(str(report.get("method") or ""), "")),
            low=sure is Confidence.LOW,
            made_from=_lines(report.get("made_from")),
            cannot_say=_lines(report.get("cannot_say")),
            cheapest=_lines(report.get("cheapest")),
            warnings=[
                line for line in _lines(report.get("warnings")) if line not in markup.assumed
            ],
            notes=self.plan.notes,
            imagery=imagery,
            imagery_credit=markup.plan.imagery_credit,
            assumed=markup.assumed,
            credit=self.settings.tile_credit if self.settings.tile_url else "",
            online=bool(self.settings.tile_url),
            site={"day": self.settings.site, **shown(SITE)} if self.settings.site else None,
        )


def frame_of(
    view: View,
    relief: MapPicture,
    tile_url: str,
    imagery: MapPicture | None = None,
    *,
    site: bool = False,
) -> str:
    """Return the constant part of every page, with tokens for user input.

    `site`: for the angler's own web host, where a browser can install and cache it.
    """
    drawn = _tidied(rendered(view, relief, tile_url, imagery))
    trusted = _filled(drawn, _ours(relief, tile_url, imagery, site))
    return _filled(trusted, {"policy": policy(trusted, tile_url, site=site)})


def _ours(
    relief: MapPicture, tile_url: str, imagery: MapPicture | None, site: bool
) -> dict[str, str]:
    """Return the values of tokens without user input."""
    style = f"<style>{assets.library_style()}\n{assets.our_style()}</style>"
    return {
        "head": f"{style}<script>{assets.library_script()}</script>"
        f"<script>{assets.prelude()}</script>",
        "scripts": f"<script>{assets.our_script()}</script>"
        + (f"<script>{assets.site_script()}</script>" if site else ""),
        "links": SITE_LINKS if site else OWN_LINKS,
        "relief": base64.b64encode(relief.data).decode("ascii"),
        "imagery": "" if imagery is None else base64.b64encode(imagery.data).decode("ascii"),
        "tiles": json_for_script(tile_url)[1:-1],
    }


@cache
def _template() -> jinja2.Template:
    """Return the template of the page around the map."""
    return page_environment().from_string(assets.shell())


def _suggestions(product: Product) -> list[dict[str, str]]:
    """Return the places where a note would help most, in the order to go."""
    frame = product.layers.get("asks")
    rows = sorted(
        frame.to_dict("records") if frame is not None else (),
        key=lambda row: number_of(row["order"]),
    )
    units = product.markup.plan.units
    return [{"code": str(row["code"]), "note": survey_note(row, units)} for row in rows]


def page_confidence(values: Any, labels: Sequence[str]) -> tuple[Confidence, list[str]]:
    """Return the confidence of the page as a whole, and that of each flow where they differ.

    Parameters
    ----------
    values
        Confidence in the report: a word, or for each flow a number from 0 to 1 or a word.
    labels
        Flows on the page. The page has the lowest confidence of them; a missing one is low.
    """
    of_flows = {
        label: _confidence(values.get(label) if isinstance(values, Mapping) else values)
        for label in labels
    }
    order = list(Confidence)
    worst = min(of_flows.values(), key=order.index, default=Confidence.LOW)
    differ = len(set(of_flows.values())) > 1
    return worst, [
        f"{label}: {in_words(word)}" for label, word in of_flows.items()
    ] if differ else []


def _confidence(values: Any) -> Confidence:
    """Return a confidence from a word or a number from 0 to 1; low for anything else."""
    named = next((word for word in Confidence if word == values), None)
    if named is not None:
        return named
    share = number_of(values)
    if not math.isfinite(share):
        return Confidence.LOW
    return list(Confidence)[int(np.digitize(share, SURE_BOUNDS))]


def first_flow(product: Product) -> int:
    """Return the index of the flow initially shown.

    The flow shown for the last reading of the gauge's record (`drawn_for`), else the middle one.
    """
    values = product.flows["flow"].to_numpy()
    last = latest(product)
    if last is None:
        return len(values) // 2 if len(values) % 2 else len(values) // 2 - 1
    return drawn_for(last[1], values.tolist())


def gauge_words(product: Product) -> str:
    """Return the end of the gauge's record, in words; empty without a record."""
    last = latest(product)
    if last is None:
        return ""
    day, flow = last
    trend = text_of((product.report.get("gauge") or {}).get("trend"))
    return gauge_sentence(day, flow, trend, product.markup.plan.units)


def _filled(text: str, values: dict[str, str]) -> str:
    """Return text with its tokens replaced in one pass: tokens inside values are not replaced."""
    return _TOKEN.sub(lambda found: values.get(found[1], found[0]), text)


def _tidied(text: str) -> str:
    """Return folium's page with language, viewport, policy, and our scripts at its end."""
    head = '<meta http-equiv="Content-Security-Policy" content="@@policy@@">@@links@@'
    text = text.replace("<html>", f'<html lang="{language().name}" class="plain">', 1)
    text = text.replace("<head>", "<head>" + head, 1)
    viewport = (
        '<meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">'
    )
    text = re.sub(r'<meta name="viewport".*?/>', viewport, text, count=1, flags=re.DOTALL)
    text = text.replace("</body>", "", 1)
    return text.replace("</html>", "@@data@@@@scripts@@</body></html>", 1)


def _escaped(text: str) -> str:
    """Return text escaped for HTML."""
    return html.escape(text)


def _lines(values: Any) -> list[str]:
    """Return a list of sentences from a report value of any type."""
    return [str(line) for line in values] if isinstance(values, list | tuple) else []
