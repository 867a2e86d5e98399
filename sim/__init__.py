"""bedjoint: does the hardscape stand, what does the glass carry, what will the shot look like?"""

__version__ = "0.1.0"
