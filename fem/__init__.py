"""The mechanics of neck, heel and joint: plain SI values in, new values out.

No files, no printing, no plotting, no unit conversion; `cases` turns a case file into these values.
"""
