"""Guarded: what strangers sent is opened in a child with limits, and workbooks are weighed first.

Pure: a child that imports this starts no web framework.
"""
