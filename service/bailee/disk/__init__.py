"""Files beside the database: tiles, checkpoints, the high-water file. No SQL, no cryptography."""
