"""The command line of Bailee: people at a terminal."""
