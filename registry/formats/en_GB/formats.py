"""British English as the house writes it: 3 Mar 2024, Tue 24 Nov 2026, 08:40, 10 482.5.

What is not said here stands in Django's own formats of the language.
"""

DATE_FORMAT = "j M Y"
MONTH_DAY_FORMAT = "j M"
YEAR_MONTH_FORMAT = "F Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "D j M Y, H:i"
SHORT_DATETIME_FORMAT = "j M Y, H:i"
DATE_INPUT_FORMATS = ["%d/%m/%Y", "%d/%m/%y", "%d %b %Y", "%d %B %Y"]
DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = "\u00a0"
NUMBER_GROUPING = 3
