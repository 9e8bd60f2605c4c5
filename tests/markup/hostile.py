"""Files that would make a careless reader open the network or other files; and an ear for it."""

from __future__ import annotations

import io
import json
import socket
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import rasterio

from tests.markup.folders import write_dem


class Ear(NamedTuple):
    """A socket that listens on this computer only."""

    socket: socket.socket
    address: str

    def heard(self) -> list[str]:
        """Return the first line of each connection that came."""
        lines = []
        while True:
            try:
                caller, _ = self.socket.accept()
            except BlockingIOError:
                return lines
            with caller:
                caller.settimeout(1)
                lines.append(caller.recv(200).decode("latin-1").split("\r\n")[0])


@contextmanager
def listening() -> Iterator[Ear]:
    """Yield an ear; its queue takes calls whether or not anybody picks up."""
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen(64)
        server.setblocking(False)
        yield Ear(server, f"http://127.0.0.1:{server.getsockname()[1]}")


def vrt(address: str) -> str:
    return (
        '<VRTDataset rasterXSize="4" rasterYSize="4"><SRS>EPSG:32607</SRS>'
        "<GeoTransform>500000, 200, 0, 5117400, 0, -200</GeoTransform>"
        '<VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        f"<SourceFilename>/vsicurl/{address}</SourceFilename><SourceBand>1</SourceBand>"
        "</SimpleSource></VRTRasterBand></VRTDataset>"
    )


def wms(address: str) -> str:
    return (
        '<GDAL_WMS><Service name="TMS"><ServerUrl>'
        f"{address}/${{z}}/${{x}}/${{y}}.png</ServerUrl></Service><DataWindow>"
        "<UpperLeftX>-20037508</UpperLeftX><UpperLeftY>20037508</UpperLeftY>"
        "<LowerRightX>20037508</LowerRightX><LowerRightY>-20037508</LowerRightY>"
        "<TileLevel>1</TileLevel></DataWindow><Projection>EPSG:3857</Projection>"
        "<BandsCount>1</BandsCount></GDAL_WMS>"
    )


def ogr_vrt(address: str, layer: str = "trees") -> str:
    return (
        f'<OGRVRTDataSource><OGRVRTLayer name="{layer}">'
        f"<SrcDataSource>/vsicurl/{address}/x.geojson</SrcDataSource>"
        "</OGRVRTLayer></OGRVRTDataSource>"
    )


def gdalg(address: str) -> str:
    line = f"gdal vector pipeline ! read /vsicurl/{address}/g.geojson"
    return json.dumps({"type": "gdal_streamed_alg", "command_line": line})


def geojson(**more) -> str:
    feature = {
        "type": "Feature",
        "properties": {"height": 3.0},
        "geometry": {"type": "Point", "coordinates": [-141.0, 46.2]},
    }
    return json.dumps({"type": "FeatureCollection", "features": [feature], **more})


def kml(inner: str, head: str = "") -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{head}<kml xmlns="http://www.opengis.net/kml/2.2" '
        f'xmlns:xlink="http://www.w3.org/1999/xlink"><Document>{inner}</Document></kml>'
    )


PLACE = "<Placemark>{}<Point><coordinates>-141,46.2</coordinates></Point></Placemark>"


def kmz(text: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("doc.kml", text)
    return stream.getvalue()


def _tagged(folder: Path, address: str) -> None:
    """Write a DEM whose own metadata names an overview elsewhere."""
    write_dem(folder / "dem.tif")
    with rasterio.open(folder / "dem.tif", "r+") as target:
        target.update_tags(ns="OVERVIEWS", OVERVIEW_FILE=f"/vsicurl/{address}/o.tif")


def _beside(name: str, text: Callable[[str], str]) -> Callable[[Path, str], None]:
    def write(folder: Path, address: str) -> None:
        write_dem(folder / "dem.tif")
        (folder / name).write_text(text(address), encoding="utf-8")

    return write


def _aux(address: str) -> str:
    return (
        '<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">'
        f"/vsicurl/{address}/a.tif</MDI></Metadata></PAMDataset>"
    )


def _file(name: str, text: Callable[[str], str | bytes]) -> Callable[[Path, str], None]:
    def write(folder: Path, address: str) -> None:
        body = text(address)
        (folder / name).write_bytes(body if isinstance(body, bytes) else body.encode())

    return write


def _linked(address: str) -> str:
    link = f"<NetworkLink><Link><href>{address}/n.kml</href></Link></NetworkLink>"
    style = f"<styleUrl>{address}/s.kml#one</styleUrl>"
    icon = f"<Style><IconStyle><Icon><href>{address}/i.png</href></Icon></IconStyle></Style>"
    data = f'<ExtendedData><SchemaData schemaUrl="{address}/d.kml#one"/></ExtendedData>'
    return kml(link + PLACE.format(style + icon + data))


def _entity(address: str) -> str:
    head = f'<!DOCTYPE kml [<!ENTITY far SYSTEM "{address}/e.xml">]>'
    return kml(PLACE.format("<name>&far;</name>"), head)


def _parameter_entity(address: str) -> str:
    return f'<!DOCTYPE gpx [<!ENTITY % far SYSTEM "{address}/p.dtd"> %far;]><gpx></gpx>'


def _gml(address: str) -> str:
    return (
        '<gml:FeatureCollection xmlns:gml="http://www.opengis.net/gml" '
        f'xmlns:xlink="http://www.w3.org/1999/xlink"><gml:featureMember xlink:href="{address}/m"/>'
        "</gml:FeatureCollection>"
    )


HOSTILE: dict[str, Callable[[Path, str], None]] = {
    "a raster description for a DEM": _file("dem.tif", vrt),
    "a map service for a DEM": _file("dem.tif", wms),
    "a DEM that names an overview": _tagged,
    "an overview beside a DEM": _beside("dem.tif.ovr", vrt),
    "a mask beside a DEM": _beside("dem.tif.msk", vrt),
    "metadata beside a DEM": _beside("dem.tif.aux.xml", _aux),
    **{
        f"a layer description called {name}": _file(name, ogr_vrt)
        for name in (
            *("trees.gpkg", "trees.geojson", "trees.json", "trees.kml", "trees.kmz", "trees.gpx"),
            *("trees.shp", "trees.fgb"),
        )
    },
    "a program to run": _file("trees.geojson", gdalg),
    "a CRS at an address": _file(
        "trees.geojson",
        lambda address: geojson(crs={"type": "link", "properties": {"href": address}}),
    ),
    "a CRS named by address": _file(
        "trees.geojson",
        lambda address: geojson(crs={"type": "name", "properties": {"name": address}}),
    ),
    "a layer description within KML": _file(
        "trees.kml", lambda address: kml(PLACE.format("") + ogr_vrt(address))
    ),
    "a layer description within GeoJSON": _file(
        "trees.geojson", lambda address: geojson(note=ogr_vrt(address))
    ),
    "links in KML": _file("trees.kml", _linked),
    "links in KMZ": _file("trees.kmz", lambda address: kmz(_linked(address))),
    "an entity in KML": _file("trees.kml", _entity),
    "an entity in GPX": _file("trees.gpx", _parameter_entity),
    "GML called KML": _file("trees.kml", _gml),
    "GML called GeoJSON": _file("trees.geojson", _gml),
}
"""Each writes a hostile file, which names an address, into a reach folder without a DEM."""
