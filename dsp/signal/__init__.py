"""Signal tools: samples, sums with waves, mains, onsets, pitch, partials, faults of a recording."""
