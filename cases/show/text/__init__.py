"""Results as text for a terminal, one file a result.

Each takes a result and returns lines; nothing is printed here.
"""
