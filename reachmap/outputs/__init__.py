"""Maps, sheets, files for GPS, phone and GIS."""
