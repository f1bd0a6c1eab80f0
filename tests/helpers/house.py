"""A house of six faces, as a job file: what is entered by hand in other ways must be equal to it."""

from __future__ import annotations

HOUSE = """\
job: {name: Ash Row 7}
units: in
sheet:
  width: 36
  rolls:
    - {length: 66'-8", price: 205}
rules: {side_lap: 3}
runs:
  - name: A
    closed: true
    faces:
      - {name: South, length: 40'-0", top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
      - name: East
        length: 28'
        top: 8'-0"
        footing: 0
        ledge: 6
        footing_depth: 12
        openings:
          - {tag: W1, kind: window, left: 10'-0", sill: 5'-2", width: 3'-0", height: 2'-0"}
        sleeves:
          - {tag: P1, at: 22'-3", elevation: 2'-6", diameter: 4}
      - {name: North, length: 16', top: 8'-0", footing: 0, ledge: 6, footing_depth: 12, corner: inside}
      - {name: Porch, length: 8'-6", top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
      - {name: North 2, length: 24', top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
      - {name: West, length: 36'-6", top: 8'-0", footing: 0, ledge: 6, footing_depth: 12}
"""
