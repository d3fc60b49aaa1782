"""Pure rules on animals used in science: what is protected, regulated, and may be used again.

They screen and warn; a named person decides. Local codes and licensed practice come first.
"""
