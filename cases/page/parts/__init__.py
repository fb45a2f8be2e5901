"""The parts of the page, one file each.

Each draws one part and calls `cases.page.desk` or `cases.page.benchdesk`; nothing is solved here.
"""
