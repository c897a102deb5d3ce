"""Before anything is signed: where to sample, what to carry, when it would arrive, what is due. No clock."""
