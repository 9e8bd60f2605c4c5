collect_ignore = ["render_project.py", "open_drawing.py"]  # run by a Python with PyQGIS
