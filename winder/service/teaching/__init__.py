"""A machine taught: what its file must say is measured at the machine, with a person's hands and eyes.

``lesson`` leads through; ``turns`` finds the counts of a turn, ``runs`` the motor's figures, ``written`` makes the
machine file. ``bench`` talks to the board, and to a person only through ``Person``.
"""
