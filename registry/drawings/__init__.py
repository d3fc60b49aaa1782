"""Drawings: pure functions that return SVG and the same facts as rows for the table beneath.

No drawing holds a style, a script or a colour: geometry stands in attributes, paint in the classes
of the stylesheet, so that dark scheme and print need no second drawing.
"""

from registry.drawings.alone import alone
from registry.drawings.courses import Course, courses
from registry.drawings.curves import Curve, curves
from registry.drawings.forest import Found, forest
from registry.drawings.hours import hours
from registry.drawings.intervals import Group, intervals
from registry.drawings.life import Fact, LifeStrip, Moment, Shape, Span, Tone, life_strip
from registry.drawings.line import Caption, Line, Step, line
from registry.drawings.places import CheckedFile, Place, Places, Weight, places
from registry.drawings.plan import Zone, plan
from registry.drawings.shares import Bar, shares
from registry.drawings.spark import bars
from registry.drawings.staff import Staff, staff
from registry.drawings.two_widths import Drawn
from registry.drawings.use_map import UseMap, UseRow, use_map

__all__ = [
    "Bar",
    "Caption",
    "CheckedFile",
    "Course",
    "Curve",
    "Drawn",
    "Fact",
    "Found",
    "Group",
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
    "Zone",
    "alone",
    "bars",
    "courses",
    "curves",
    "forest",
    "hours",
    "intervals",
    "life_strip",
    "line",
    "places",
    "plan",
    "shares",
    "staff",
    "use_map",
]
