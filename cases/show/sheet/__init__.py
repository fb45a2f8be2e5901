"""The sheet for the bench: its content, and the same content as PDF and as HTML.

Content is decided once, in `content`; the two others only lay it out.
"""
