"""What people see: texts, pictures, the sheet and exported files.

Everything here takes results; nothing solves, and no result imports this room.
"""
