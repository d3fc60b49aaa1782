"""Drawings: pure functions that return SVG and the same facts as rows for the table beneath.

No drawing holds a style, a script or a colour: geometry stands in attributes, paint in the classes
of the stylesheet, so that dark scheme and print need no second drawing.
"""

from registry.drawings.curves import Curve, Curves, curves
from registry.drawings.intervals import Group, Intervals, intervals
from registry.drawings.life import Fact, LifeStrip, Moment, Shape, Span, Tone, life_strip
from registry.drawings.line import Caption, Line, Step, line
from registry.drawings.places import CheckedFile, Place, Places, Weight, places
from registry.drawings.spark import bars
from registry.drawings.staff import Staff, staff
from registry.drawings.use_map import UseMap, UseRow, use_map

__all__ = [
    "Caption",
    "CheckedFile",
    "Curve",
    "Curves",
    "Fact",
    "Group",
    "Intervals",
    "LifeStrip",
    "Line",
    "Moment",
    "Place",
    "Places",
    "Shape",
    "Span",
    "Staff",
    "Step",
    "Tone",
    "UseMap",
    "UseRow",
    "Weight",
    "bars",
    "curves",
    "intervals",
    "life_strip",
    "line",
    "places",
    "staff",
    "use_map",
]
