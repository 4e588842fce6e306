"""What the camera and the distance sensor see past the printed parts and the moving lid.

``check_views`` in ``check`` runs all of it; every part works alone from Python:
``sights`` (seen, hidden by which part, outside), ``best`` (aim, heights), ``pupil`` (soft edges),
``distance`` (cone, readings over height), ``optics`` (opening, chamfer, pixels), ``window``
(cross-talk), ``judge`` (findings), on ``shape`` (inputs), ``scene`` (bodies), ``target`` (cells).
"""
