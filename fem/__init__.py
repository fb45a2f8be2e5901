"""The mechanics of neck, heel and joint: plain SI values in, new values out; no files, no printing, no
plotting.
"""
