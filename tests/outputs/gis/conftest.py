collect_ignore = ["render_project.py"]  # run by a Python with PyQGIS
