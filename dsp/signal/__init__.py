"""Signal tools: samples, mains, onsets, pitch, partials, faults of a recording."""
