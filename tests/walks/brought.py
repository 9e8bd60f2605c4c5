"""The third walk: KML, a shapefile and GeoJSON made elsewhere, dropped on the page."""

import io
import json
import tempfile
import zipfile
from pathlib import Path

import geopandas as gpd
from shapely import Polygon

from tests.walks.person import build_command, say_facts
from tests.web.editor.folders import HOME

CENTRE = [(HOME[0] + 0.001 * i, HOME[1] + 0.0002 * (i % 3)) for i in range(8)]


def strip(near, far, corners=CENTRE):
    """Return the corners of a strip beside the line, by degrees north of it."""
    return [(x, y + near) for x, y in corners] + [(x, y + far) for x, y in corners[::-1]]


def kml():
    """Return placemarks as a phone or a globe program writes them."""
    line = " ".join(f"{x},{y},0" for x, y in CENTRE)
    ring = strip(0.0003, 0.0008)
    ring = " ".join(f"{x},{y},0" for x, y in [*ring, ring[0]])
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>scouting</name><Folder>
<name>Untitled folder</name>
<Placemark><name>main river</name><LineString><coordinates>{line}</coordinates></LineString>
</Placemark>
<Placemark><name>river left - willows</name><Polygon><outerBoundaryIs><LinearRing><coordinates>
{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
<Placemark><name>Parking</name><Point><coordinates>{HOME[0] + 0.001},{HOME[1] + 0.0012},0
</coordinates></Point></Placemark>
<Placemark><name>4.2 ft deep</name><Point><coordinates>{HOME[0] + 0.0042},{HOME[1] + 0.0002},0
</coordinates></Point></Placemark>
</Folder></Document></kml>""".encode()


def shapefile():
    """Return a packed shapefile of the other bank, in the columns of a desktop program."""
    ring = Polygon(strip(-0.0003, -0.0008))
    frame = gpd.GeoDataFrame(
        {"SIDE": ["R"], "VEG": ["Gravel bar"]}, geometry=[ring], crs="EPSG:4326"
    )
    with tempfile.TemporaryDirectory() as place:
        frame.to_crs("EPSG:32607").to_file(Path(place) / "east_bank.shp")
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w") as archive:
            for path in sorted(Path(place).iterdir()):
                archive.write(path, path.name)
    return stream.getvalue()


def geojson():
    """Return a point of danger from a web map."""
    shape = {"type": "Point", "coordinates": [HOME[0] + 0.003, HOME[1] + 0.0001]}
    feature = {"type": "Feature", "properties": {"title": "strainer"}, "geometry": shape}
    return json.dumps({"type": "FeatureCollection", "features": [feature]}).encode()


def walk(person):
    with person.draws("scouted") as sheet:
        for name, content in (
            ("scouting.kml", kml()),
            ("east bank.zip", shapefile()),
            ("danger.geojson", geojson()),
        ):
            bring(person, sheet, name, content)
        drawn = {(mark["layer"], mark["values"].get("side", "")) for mark in sheet.marks()}
        assert drawn == {
            ("river", ""), ("banks", "left"), ("banks", "right"), ("access", ""),
            ("soundings", ""), ("hazards", ""),
        }  # fmt: skip
        covers = [m["values"]["cover"] for m in sheet.marks() if m["layer"] == "banks"]
        assert covers == ["brush", "gravel"]
        say_facts(sheet, traced_flow="900", slope="0.002", flows="600, 900, 1400")
        put_right(person, sheet)
        assert sheet.state("state.faults") == []
        build_command(sheet)
    return person.builds_and_looks("scouted", "scouted")


def put_right(person, sheet):
    """The depth lacks its flow: the check says so, and leads there."""
    page = sheet.page
    page.click("#tab-check")
    page.wait_for_selector("h2:has-text('1 thing to put right')")
    person.shot("put-right", page)
    page.click("text=Show it")
    page.fill("input[name=flow]", "900")
    page.press("input[name=flow]", "Tab")
    sheet.checked()


def bring(person, sheet, name, content):
    """Drop a file, look at what was understood, nod."""
    page = sheet.page
    page.click("#tab-draw")
    page.set_input_files("#bring", {"name": name, "mimeType": "", "buffer": content})
    page.wait_for_selector("#take-in")
    person.shot(f"brought-{name.split('.')[-1]}", page)
    assert page.inner_text("#take-in") == "Take in", page.inner_text("#page-draw")
    page.click("#take-in")
    sheet.settle()
