"""The tests, which mirror the packages; worlds.py builds ready states by acting."""
