"""The page to draw on: a small server for one reach folder, on this computer only.

`app.make_app` is the door; `serve.serve` runs what it makes. `store.Board` keeps the drawing.
"""
