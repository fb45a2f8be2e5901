"""The whole instrument assembled, condensed and solved: joint bolted, strings at pitch, offset found.

Every search is here; what a state says to a reader is read in `fem.results`.
"""
