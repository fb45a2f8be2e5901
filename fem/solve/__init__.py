"""The whole instrument assembled, condensed and solved: joint bolted, strings at pitch, offset found.

Every search is here; `fem.results` reads the states.
"""
