"""Thousands of necks drawn and solved: how often one pair of shims is right.

The fast mechanics are in `fem.many`; here are the draws, the cache, the run and its rates.
"""
