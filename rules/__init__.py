"""The trade made exact: what a revived lead-acid bank is doing, and what must follow.

Everything here is pure. Time is an argument, nothing is read or written, and the same events give the same answer live
and in replay. :mod:`rules.step` folds events; plan, laws and verdict are asked through the doors of their rooms, and no
room reaches past the door of another.
"""
