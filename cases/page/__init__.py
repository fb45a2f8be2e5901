"""The page: the same questions without a terminal, in a browser.

It calls the same functions as the commands and holds only what a visitor sees and does.
"""
