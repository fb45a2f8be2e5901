"""Stiffness of neck, fretboard, rod and block: section constants, beam, plate, and the tie between them.

Each file turns a shape and moduli into stiffness or rows; nothing here knows the joint, a load or a state.
"""
