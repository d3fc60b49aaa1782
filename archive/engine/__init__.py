"""The engine: reads a data package, judges it, and says what to do. It knows nothing of the web.

The light modules (findings, codes, limits, roles, facts, descriptor, reports, unpack, watch,
package) may be imported anywhere. The heavy one, run, loads frictionless and numpy: a web process
never imports it, but has it run in a child with limits (``archive.engine.watch.check_in_child``).
"""
