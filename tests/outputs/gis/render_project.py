"""Run by a Python with PyQGIS: opens a project, applies a theme, paints it; prints JSON.

python render_project.py PROJECT OUT_FOLDER [THEME ...]
"""

import json
import os
import sys
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from qgis.core import (
    QgsApplication,
    QgsLayerTreeModel,
    QgsLayoutExporter,
    QgsMapRendererParallelJob,
    QgsMapSettings,
    QgsProject,
    QgsRasterLayer,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor


def paint(project, path):
    """Paint the layers that are checked, as the canvas would."""
    root = project.layerTreeRoot()
    settings = QgsMapSettings()
    settings.setLayers([one for one in root.layerOrder() if root.findLayer(one).isVisible()])
    settings.setDestinationCrs(project.crs())
    settings.setExtent(project.viewSettings().defaultViewExtent())
    box = [one.extent() for one in settings.layers()]
    whole = box[0]
    for one in box:
        whole.combineExtentWith(one)
    settings.setExtent(whole)
    settings.setOutputSize(QSize(1600, 900))
    settings.setBackgroundColor(QColor("#f5f0e5"))
    job = QgsMapRendererParallelJob(settings)
    job.start()
    job.waitForFinished()
    job.renderedImage().save(str(path))
    return [one.name() for one in settings.layers()], [str(e.message) for e in job.errors()]


def main(project_path, out, themes):
    """Open, look, paint, export one page of the first layout."""
    application = QgsApplication([], False)
    application.initQgis()
    project = QgsProject.instance()
    opened = project.read(str(project_path))
    layers = project.mapLayers().values()
    collection = project.mapThemeCollection()
    found = {
        "opened": opened,
        "layers": len(layers),
        "invalid": [one.id() for one in layers if not one.isValid()],
        "renderers": {one.id(): one.renderer().type() for one in layers},
        "crs": sorted({one.crs().authid() for one in layers}),
        "project_crs": project.crs().authid(),
        "themes": list(collection.mapThemes()),
        "layouts": [one.name() for one in project.layoutManager().layouts()],
        "features": {one.id(): one.featureCount() for one in layers if hasattr(one, "fields")},
        "legend": {},
        "painted": {},
    }
    model = QgsLayerTreeModel(project.layerTreeRoot())
    for one in layers:
        nodes = model.layerLegendNodes(project.layerTreeRoot().findLayer(one.id()))
        found["legend"][one.id()] = [str(node.data(0)) for node in nodes]
    found["painted"]["opened"] = paint(project, out / "opened.png")
    for theme in themes:
        collection.applyTheme(theme, project.layerTreeRoot(), model)
        name = "".join(sign for sign in theme if sign.isalnum())
        found["painted"][theme] = paint(project, out / f"{name}.png")
    for layout in project.layoutManager().layouts()[:1]:
        atlas = layout.atlas()
        found["pages"] = atlas.updateFeatures()
        atlas.beginRender()
        atlas.first()
        image = QgsLayoutExporter.ImageExportSettings()
        image.dpi = 150
        QgsLayoutExporter(layout).exportToImage(str(out / "page.png"), image)
        atlas.endRender()
    here = project_path.parent
    raster = {
        one: QgsRasterLayer(str(next(here.glob(f"{one}_*.tif"))), one) for one in ("depth", "wet")
    }
    water = QgsVectorLayer(f"{here / 'results.gpkg'}|layername=water", "water", "ogr")
    found["alone"] = {
        name: layer.renderer().type() for name, layer in {**raster, "water": water}.items()
    }
    sys.stdout.write(json.dumps(found))
    sys.stdout.flush()
    os._exit(0)  # layers of our own would outlive the program and end it with a fault


main(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3:])
