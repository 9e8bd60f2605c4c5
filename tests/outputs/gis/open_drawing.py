"""Run by a Python with PyQGIS: opens the layers of a drawing, draws a hazard; prints JSON.

python open_drawing.py MARKUP_GPKG
"""

import json
import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from qgis.core import QgsApplication, QgsFeature, QgsGeometry, QgsPointXY, QgsVectorLayer


def main(path):
    """Say how each layer looks and is filled in; add a place to the ways in."""
    application = QgsApplication([], False)
    application.initQgis()
    found = {}
    for name in ("banks", "access", "runs", "hazards"):
        layer = QgsVectorLayer(f"{path}|layername={name}", name, "ogr")
        fields = layer.fields()
        found[name] = {
            "valid": layer.isValid(),
            "look": layer.renderer().type() if layer.renderer() else "",
            "labels": layer.labelsEnabled(),
            "widgets": {f.name(): layer.editorWidgetSetup(i).type() for i, f in enumerate(fields)},
            "usual": {f.name(): layer.defaultValueDefinition(i).expression()
                      for i, f in enumerate(fields)},
            "parts": [str(one) for one in layer.dataProvider().subLayers()],
        }  # fmt: skip
    layer = QgsVectorLayer(f"{path}|layername=access", "access", "ogr")
    feature = QgsFeature(layer.fields())
    feature.setAttribute("kind", "ford")
    feature.setAttribute("note", "drawn in the GIS")
    extent = layer.extent()
    feature.setGeometry(QgsGeometry.fromPointXY(QgsPointXY(extent.center())))
    layer.startEditing()
    layer.addFeature(feature)
    found["kept"] = layer.commitChanges()
    sys.stdout.write(json.dumps(found))
    sys.stdout.flush()
    os._exit(0)


main(sys.argv[1])
