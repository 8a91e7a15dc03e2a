"""What each piece of work at the bench costs the plan: stated once, each with its reason.

Task: rank plans. Units: none; 1 is the work of exchanging the two leads of a pickup that lies on the bench.
All are multiples of one half, so that sums of equal work are exactly equal and ties are found. Signs: none.
"""

from __future__ import annotations

EXCHANGE_LOOSE = 1.0
"""Not soldered in yet: the leads only go to other places."""
EXCHANGE_FITTED = 3.0
"""A fitted pickup has to be unsoldered first."""
COIL_ALONE_EXTRA = 1.0
"""One coil's leads alone: the link between the coils has to be opened and insulated again."""
SEPARATE_SHIELD = 1.0
"""A shield or cover joined to a lead is separated first, and gets a ground of its own."""
BRAID_OPENED = 20.0
"""Two leads of which the braid is one: the pickup is opened and its coil taken off the braid, which costs
more, and risks more, than exchanging every other pickup of a guitar or turning a magnet."""
TURN_MAGNET = 5.0
"""The pickup is taken apart, and a magnet may break."""
REFERENCE_EXTRA = 0.5
"""Of two equal plans the one that leaves the reference alone."""
