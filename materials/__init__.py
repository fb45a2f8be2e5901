"""Tables with a source for every number, and what turns them into moduli, densities and tensions.

Nothing here knows an instrument; where a neck lies in its board or how it bends is found above.
"""
