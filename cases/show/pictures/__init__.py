"""Results as pictures, one file a picture.

Each takes a result and returns a figure or writes one; matplotlib is imported here and in the sheet only.
"""
