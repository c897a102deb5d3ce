"""Before anything is signed: where to sample, what to carry, when an envelope would arrive, what is due. No clock, no SQL."""
