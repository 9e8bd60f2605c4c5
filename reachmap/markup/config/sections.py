"""The sections of reach.toml: one line per key with its type, limits and meaning.

Limits without another source are our choice: beyond the values of any wadeable river, so that a
wrong unit is detected.
"""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field

from reachmap.base.words import Cast, Hand, Season, Side, WadeRule
from reachmap.markup.config import rules
from reachmap.markup.config.degrees import Degrees
from reachmap.markup.config.keys import (
    Keys,
    flow_key,
    length_key,
    missing_key,
    ratio_key,
    texts_key,
)
from reachmap.markup.config.kinds import Day, Flag, Number, Row, Text, Whole, Word
from reachmap.markup.defaults import ANGLER, GPS, OUTING
from reachmap.markup.evidence import TOPICS
from reachmap.markup.kit import FAMILIES
from reachmap.markup.layers import BEDS, FLOW_LIMITS, HEIGHT_LIMITS, LADDER, MOST_FLOWS, Quantity


# fmt: off
class RiverKeys(Keys):
    """The river's flow and fall."""

    traced_flow: Annotated[float, flow_key("flow when the water stood at the inner edges of the banks you traced", "1200", "34", missing=missing_key("traced_flow", "the river's flow when the water's edges you traced were there"))]
    slope: Annotated[float, ratio_key(1e-5, 0.08, "fall over length; needed without a DEM, or instead of it fall:", "0.002", left_out="needed without a DEM, unless `fall` or two level notes at one flow tell it")] = math.nan
    fall: Annotated[float, length_key(0.01, 500, "how far the water falls over the whole main line", "16", "5", commented=True)] = math.nan
    bed: Annotated[str, Word("what the channel's bed is made of; stones hold shallow water back more than deep", '"cobble"', words=BEDS, commented=True, left_out="one roughness at every depth, as for sand, silt and bedrock")] = ""
    stones: Annotated[float, length_key(0.002, 1, "size that 84 of 100 stones of the bed do not reach, if you measured it", '"5 in"', '"130 mm"', commented=True, left_out="what `bed` says: gravel 45 mm, cobble 90 mm, boulder 300 mm")] = math.nan


class FlowKeys(Keys):
    """The flows to map."""

    given: Annotated[tuple[float, ...], Row("the flows to map, or instead of the list a range:", ("[800, 1200, 1800, 2400, 3200]", "[22, 34, 50, 68, 90]"), of=(flow_key(),), most=MOST_FLOWS, what="a list of flows", fix="Write it like [800, 1200]", left_out="give this or a range")] = Field((), alias="list")
    low: Annotated[float, flow_key("lowest of a range of flows; both ends are mapped", "800", "22", commented=True)] = Field(math.nan, alias="from")
    high: Annotated[float, flow_key("its highest", "3200", "90", commented=True)] = Field(math.nan, alias="to")
    count: Annotated[int, Whole("how many, evenly spaced; or step = how far apart", "5", low=1, high=MOST_FLOWS, wrong="{} is not a number of flows", fix=f"Give a whole number from 1 to {MOST_FLOWS}", commented=True)] = 0
    step: Annotated[float, flow_key("how far apart, instead of count", low=FLOW_LIMITS[0] / 10)] = math.nan
    ladder: Annotated[int, Whole("how many flows are read from the lowest to the highest, those above among them; 0: those alone, each solved by itself", "24", low=0, high=MOST_FLOWS, wrong="{} is not a number of flows", fix=f"Give a whole number from 0 to {MOST_FLOWS}", commented=True)] = LADDER


class GaugeKeys(Keys):
    """The gauge."""

    about = "if you have the files, put them into the folder gauge/"
    commented = True

    name: Annotated[str, Text("its name", '"The gauge above the bridge"', left_out="that of its files")] = ""
    files: Annotated[tuple[str, ...], texts_key(Text(check=rules.inside), "rating table and record of flow: RDB, CSV, JSON or WaterML", '["gauge/*"]', left_out="`gauge/*`")] = ()
    zero: Annotated[float, Number("height of the gauge's zero in the DEM's datum; leave out if unknown", ("412.6", "125.8"), low=HEIGHT_LIMITS[0], high=HEIGHT_LIMITS[1], quantity=Quantity.HEIGHT, left_out="stages are not used as heights")] = math.nan
    above_foot: Annotated[float, length_key(-500, 500, "how far upstream of the river line's lower end the gauge stands, along the river; 0 at the end itself: its rating and zero then set the water's level there, if a DEM gives the heights", "0", left_out="normal depth sets the level at the lower end")] = math.nan
    datum: Annotated[str, Text("the vertical datum of that height", '"NAVD88"', left_out="taken to be the DEM's")] = ""
    time_zone: Annotated[str, Text("of times in files that do not say theirs", '"America/Vancouver"', check=rules.known_zone, left_out="UTC, and told")] = ""
    feature_id: Annotated[int, Whole("which reach is yours in a national model's netCDF files", "23894572", low=1, high=2**53, wrong="{} is no reach's number", fix="Give the reach's feature id, a whole number", commented=True, left_out="such a file must hold one reach alone")] = 0


class DemKeys(Keys):
    """The terrain model."""

    about = "if you have one: dem.tif, or several tiles dem_1.tif, dem_2.tif ..."
    commented = True

    flow: Annotated[float, flow_key("the river's flow on the day it was flown", "850", "24", left_out="told: its water is of an unknown flow")] = math.nan
    height_unit: Annotated[str, Word("the unit of its heights, whatever `units` says", '"m"', words=("m", "ft"), left_out="what the file says, else metres, and told")] = "m"
    datum: Annotated[str, Text("its vertical datum", '"NAVD88"', left_out="what the file says")] = ""
    below_water: Annotated[bool, Flag("whether it knows the bed under water too (topobathymetric): then no bed is made up where it has heights", "true", left_out="told from its heights")] = False
    files: Annotated[tuple[str, ...], texts_key(Text(check=rules.inside), "names or patterns inside the folder", '["dem*.tif"]', left_out="every raster of ground heights in the folder, `dem*.tif`, `dem*.tiff` and `dem*.asc` before others")] = ()


class FlightKeys(Keys):
    """Tiles of the terrain model that were flown on one day."""

    about = "tiles flown on different days: a block for each flight (docs/evidence.md)"
    commented = True

    files: Annotated[tuple[str, ...], texts_key(Text(check=rules.inside), "its tiles: names or patterns inside the folder", '["dem_2021*.tif"]', missing=missing_key("files", "which of the terrain's tiles are of it"), blank=())]
    date: Annotated[str, Day("the day it was flown", "2021-09-02", left_out="the day its files say, by which flights are only put in order")] = ""
    flow: Annotated[float, flow_key("the river's flow on that day", "850", "24", left_out="that of the gauge's record on `date`, else `flow` under [dem]")] = math.nan
    below_water: Annotated[bool, Flag("whether it knows the bed under water too", "true", left_out="told from its heights")] = False
    first: Annotated[bool, Flag("whether it counts before the others, whatever its date", "true", left_out="the latest counts")] = False


class SounderKeys(Keys):
    """The echo sounder."""

    about = "if you drove one: its files lie in this folder under any name"
    commented = True

    transducer: Annotated[float, length_key(0, 3, "how deep below the surface it hangs: added to every depth of its tracks that does not count from the surface already", '"8 in"', '"20 cm"', left_out="nothing is added")] = 0.0
    flow: Annotated[float, flow_key("the river's flow while it was driven, for files without times, or that the gauge's record does not cover", "900", "26", left_out="that of the gauge's record at each depth's time")] = math.nan


class ImageryKeys(Keys):
    """A picture from the air, laid under the water."""

    about = "if you have one: imagery.tif, imagery.mbtiles or imagery.pmtiles"
    commented = True

    file: Annotated[str, Text("its name inside the folder: a GeoTIFF, MBTiles or PMTiles", '"imagery.tif"', check=rules.inside, left_out="`imagery*.tif`, `.tiff`, `.mbtiles`, `.pmtiles`")] = ""
    credit: Annotated[str, Text("whose it is, as they ask to be named", '"County survey 2031"', left_out="nothing is said")] = ""


class EvidenceKeys(Keys):
    """Evidence that is right though other evidence contradicts it."""

    about = "evidence that contradicts other evidence (docs/evidence-checks.md)"
    commented = True

    accept: Annotated[tuple[str, ...], texts_key(Word(words=tuple(TOPICS), what="a kind of evidence"), "kinds of evidence that are right though others contradict them", '["soundings"]', left_out="contradictions warn, or stop the build")] = ()


def _pair(of: Number, key: str, meaning: str, *example: str, left_out: str = "a guide's choice, no published source") -> Row:
    """Return a pair of lower and upper limit."""
    fix = f"Give least and most, like {key} = {example[0]}"
    return Row(meaning, example, of=(of, of), what="a pair of numbers", fix=fix,
               check=rules.rising, commented=True, left_out=left_out)


Depths = Annotated[tuple[float, ...], _pair(length_key(0, 6), "depth", "water you expect fish in: least and most", "[1.5, 6]", "[0.45, 1.8]")]
Speeds = Annotated[tuple[float, ...], _pair(length_key(0, 5, quantity=Quantity.SPEED), "speed", "the same of its speed", "[1, 3]", "[0.3, 0.9]")]

_LIES = "our choice, about what was measured (docs/reading-the-water.md)"
LieDepths = Annotated[tuple[float, ...], _pair(length_key(0, 10), "lie_depth", "water fish lie in, which need not be what you swing a fly through: least and most depth", "[2.3, 11]", "[0.7, 3.5]", left_out=_LIES)]
LieSpeed = Annotated[float, length_key(0.05, 2, "the most speed near the bed, half a foot above it, that they lie in", '"1.5 ft/s"', '"0.45 m/s"', quantity=Quantity.SPEED, commented=True, left_out=_LIES)]


class SeasonPairs(Keys):
    """Limits of one season: least and most depth [m] and speed [m/s]; () where not given.

    `lie_depth` and `lie_speed` [m/s] are those of lies, NaN where not given.
    """

    depth: Depths = ()
    speed: Speeds = ()
    lie_depth: LieDepths = ()
    lie_speed: LieSpeed = math.nan


class SeasonKeys(Keys):
    """The season and its limits; those of another whenever it is asked for."""

    more = ('# [season.summer]           # the same for summer, whenever it is asked for\n' '# depth = ["0.35 m", "1.8 m"]\n# speed = ["0.4 m/s", "1.3 m/s"]',) * 2

    name: Annotated[Season, Word("the season you fish", '"winter"', words=tuple(Season), left_out="winter, and told")] = Season.WINTER
    depth: Depths = ()
    speed: Speeds = ()
    lie_depth: LieDepths = ()
    lie_speed: LieSpeed = math.nan
    water_temp: Annotated[float, Degrees("temperature of the water the map is read for: in colder water fish lie slower", ('"41 F"', '"5 C"'), commented=True, left_out="the median of the last two days in `temperature*.csv`, if the gauge's record goes on no more than a week; else the limits as they stand")] = math.nan
    winter: SeasonPairs = SeasonPairs()
    summer: SeasonPairs = SeasonPairs()


class AnglerKeys(Keys):
    """The person; 1.2 m is where guidance on wading ends for any adult (Cox 2011, slides, read)."""

    height: Annotated[float, length_key(1.0, 2.3, "your height", '"5 ft 10 in"', '"1.78 m"', unit="m")] = ANGLER.height_m
    wade_limit: Annotated[float, length_key(0.1, 1.2, "the deepest you will stand, before current; at most 3/4 of your height", '"3 ft"', '"0.9 m"', unit="m")] = ANGLER.wade_limit_m
    hand: Annotated[Hand, Word("the upper hand on the rod", '"right"', words=tuple(Hand))] = ANGLER.hand
    leader: Annotated[float, length_key(0.3, 8, "your leader", '"4 ft"', '"1.2 m"', unit="ft")] = ANGLER.leader_m
    cast_limit: Annotated[float, length_key(5, 60, "your everyday longest cast, to the fly", '"80 ft"', '"24 m"', unit="ft")] = ANGLER.cast_limit_m


class OutingKeys(Keys):
    """Who fishes on a day, and for how long."""

    about = "the day's outing: the short list of runs is made for it"

    boat: Annotated[bool, Flag("whether you come by boat: then both banks are yours, and runs without a way on foot", "false")] = OUTING.boat
    crossing: Annotated[bool, Flag("whether you have a bridge or ford of your own to the other bank", "false", commented=True)] = OUTING.crossing
    bank: Annotated[str, Word("the bank you fish from, looking downstream", '"left"', words=(Side.LEFT, Side.RIGHT), what="a bank", commented=True, left_out="the bank on which the day's runs are worth most")] = ""
    hours: Annotated[float, ratio_key(0.5, 16, "how long you fish, ways between included [h]", "6")] = OUTING.hours
    log_weight: Annotated[float, ratio_key(0, 1, "how much your own log counts in the order of runs: 0 is shown beside it only, 1 as much as the model", "0.5", commented=True)] = OUTING.log_weight


GPS_GROUPS = ("access", "hazards", "asks", "runs", "water", "structure", "day")
"""Groups of places in files for a GPS, each with its own symbol."""


def _symbol(what: str, example: str) -> Text:
    """Return the key of one group's symbol."""
    return Text(f"word that your device shows for {what}, spelt as it spells it", example, commented=True, left_out="the one of `symbols`")


def _most(low: int, high: int, meaning: str, example: str) -> Whole:
    """Return a count limit of a device; 0 for none."""
    return Whole(f"{meaning}; 0: no limit", example, low=low, high=high, wrong="{} is no such limit", fix=f"Give a whole number from {low} to {high}", commented=True)


class GpsKeys(Keys):
    """How files for a GPS are written."""

    about = "files for a GPS: its symbols and what it keeps"
    commented = True

    symbols: Annotated[str, Word("words for symbols: plain words of reachmap, single English nouns, or none at all", '"words"', words=("words", "nouns", "none"), what="a set of symbol words", commented=True)] = GPS.symbols
    access: Annotated[str, _symbol("ways in", '"Parking"')] = ""
    hazards: Annotated[str, _symbol("hazards", '"Danger"')] = ""
    asks: Annotated[str, _symbol("places worth a note", '"Note"')] = ""
    runs: Annotated[str, _symbol("ends of runs", '"Flag"')] = ""
    water: Annotated[str, _symbol("ends of water", '"Water"')] = ""
    structure: Annotated[str, _symbol("where fish lie", '"Fish"')] = ""
    day: Annotated[str, _symbol("the day's list", '"Flag"')] = ""
    most_places: Annotated[int, _most(0, 100_000, "places that a file may hold; hazards are never left out", "1000")] = GPS.most_places
    most_lines: Annotated[int, _most(0, 100_000, "lines that a file may hold", "200")] = GPS.most_lines
    most_points: Annotated[int, _most(0, 1_000_000, "points that a line may hold", "10000")] = GPS.most_points
    longest_text: Annotated[int, Whole("signs of a place's text", "1000", low=60, high=10_000, wrong="{} is no such length", fix="Give a whole number from 60 to 10000", commented=True)] = GPS.longest_text


class SiteKeys(Keys):
    """A page of the angler's own on the net."""

    about = "if you put the installable page (reachmap build --site) on a host of your own"
    commented = True

    address: Annotated[str, Text("where the page is found; a QR of it can be printed", '"https://river.example.org/home/"', check=rules.page_address)] = ""


class PagesKeys(Keys):
    """How pages and files are written."""

    about = "how dates and numbers are written"
    commented = True

    locale: Annotated[str, Text("language and country, like de_CH: signs of numbers, order of dates; sentences too where that language has been translated (docs/translate.md)", '"en_CA"', check=rules.known_locale, left_out="English, decimal point, Sat 12 Jan, 14:30")] = ""


class PreferKeys(Keys):
    """What the angler takes first where several casts, heads or rods serve."""

    about = "what you take first where several serve; the order of the kit's blocks says nothing"
    commented = True

    casts: Annotated[tuple[Cast, ...], texts_key(Word(words=tuple(Cast), what="a cast"), "casts in your order; those not named come after", '["snap-T", "double spey"]', left_out="double spey, snap-T, circle C, single spey, snake roll, underhand, perry poke")] = ()
    heads: Annotated[tuple[str, ...], texts_key(Text(), "names of heads in your order, of those that turn the tip over", '["short head"]', left_out="the longest that is wholly out, a shorter one where trees crowd")] = ()
    rods: Annotated[tuple[str, ...], texts_key(Text(), "names of rods in your order", ('["my 13 footer"]', '["my 4 metre rod"]'), left_out="longer for long casts, heavy tips and open ground")] = ()


class RodKeys(Keys):
    """A rod."""

    about = "what you own: repeat each block as you like; keep the units behind"

    name: Annotated[str, Text("your name for it", ('"my 13 footer"', '"my 4 metre rod"'), left_out="its line weight")] = ""
    length: Annotated[float, length_key(2.7, 6.5, "its length", '"13 ft"', '"4 m"', missing=missing_key("length"))]
    line_weight: Annotated[int, Whole("number of the line it casts", "7", low=1, high=15, wrong="{} is no line weight", fix="Give a whole number from 1 to 15, like line_weight = 7", missing=missing_key("line_weight", "7"))]


class HeadKeys(Keys):
    """A shooting head or belly."""

    name: Annotated[str, Text("your name for it", '"short head"', left_out="its family")] = ""
    length: Annotated[float, length_key(3, 30, "its length", '"24 ft"', '"7.3 m"', missing=missing_key("length"))]
    family: Annotated[str, Word("skagit, scandi, short belly, mid belly or long belly", '"skagit"', words=FAMILIES, missing=missing_key("family", f"one of: {', '.join(FAMILIES)}"))]
    weight: Annotated[float, length_key(0.008, 0.1, "its mass", '"540 gr"', '"35 g"', quantity=Quantity.MASS, commented=True, left_out="that of its family and length, from memory")] = math.nan


class TipKeys(Keys):
    """A tip."""

    more = ('[[tip]]\nname = "T-11"\nlength = "10 ft"\nsink = "7.5 in/s"', '[[tip]]\nname = "T-11"\nlength = "3 m"\nsink = "19 cm/s"')

    name: Annotated[str, Text("your name for it", '"floating"', left_out="tip")] = ""
    length: Annotated[float, length_key(0, 10, "its length", '"10 ft"', '"3 m"', missing=missing_key("length"))]
    sink: Annotated[float, length_key(0, 0.5, "in still water; plain numbers: inches a second (metric: cm)", "0", quantity=Quantity.SINK, missing=missing_key("sink", "how fast it sinks in still water (0 for a floating tip)"))]


class CastKeys(Keys):
    """Own figures of one cast's loop; NaN where none was given."""

    about = "own figures of one cast's loop; all from memory (docs/casting-room.md)"
    commented = True

    name: Annotated[Cast, Word("a cast of docs/words.md", '"single spey"', words=tuple(Cast), what="a cast", missing=("it does not name its cast", f"Use one of: {', '.join(Cast)}"))]
    anchored: Annotated[float, ratio_key(0, 0.6, "share of the head left on the water", "0.10", left_out="the table of casting-room.md")] = math.nan
    tilt: Annotated[float, ratio_key(0, 75, "lean of the rod back from upright, degrees", "28", left_out="the same")] = math.nan
    apex: Annotated[float, ratio_key(0.05, 1.5, "height of the loop's apex over that of the rod tip", "0.40", left_out="the same")] = math.nan


_FLY = 'Give shortest and longest, like length = ["2 in", "3 in"]'


class FlyKeys(Keys):
    """A row of the fly table."""

    about = "a row of your own fly table; the first begins at clarity 0"
    commented = True

    clarity: Annotated[float, length_key(0, 20, "from here on: so far one sees", "0", missing=missing_key("clarity", "from where on it holds"))]
    length: Annotated[tuple[float, float], Row("shortest and longest fly", '["4 in", "5 in"]', of=(length_key(0.003, 0.3),) * 2, fix=_FLY, what="a pair of lengths", check=rules.not_longer, blank=(math.nan, math.nan), missing=("the fly has no pair of lengths", _FLY))]
    colour: Annotated[str, Text("in your words", '"black and blue"')] = "any colour"
    shape: Annotated[str, Text("in your words", '"bulky"')] = "any shape"
    note: Annotated[str, Text("in your words", '"only the soft edge"')] = "your own table"


RULES = texts_key(Word(words=tuple(WadeRule), what="a wading rule"), "published rules in force, the strictest counts (docs/wading.md)",
    '["rule of ten", "failure tests", "poor conditions", "flood hazard", "emergency advice"]', commented=True, left_out="all but good and normal conditions")
"""[wading] rules."""

SIGHTINGS = Row(
    "flow and how far you saw, at two flows",
    ('[[900, "5 ft"], [2400, "1.5 ft"]]', '[[25, "1.5 m"], [68, "0.5 m"]]'),
    of=(Row(of=(flow_key(), length_key(0.02, 20)), what="", fix=""),) * 2,
    what="two sightings", check=rules.two_flows, commented=True,
    fix='Give two pairs of flow and clarity, like [[900, "5 ft"], [2400, "1.5 ft"]]',
    left_out="`see` at every flow; `--clarity` of a build counts before both")
"""[clarity] sightings."""
# fmt: on
