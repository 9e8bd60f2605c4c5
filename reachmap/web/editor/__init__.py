"""The drawing editor: a small web application for one reach folder, on this computer only.

`app.make_app` builds it, `serve.serve` runs it, `store.DrawingStore` keeps the drawing.
"""
