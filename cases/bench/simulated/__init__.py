"""An invented workshop with known true necks, to measure how well pairs and calibrations work.

Only simulations; a real bench uses nothing from here.
"""
