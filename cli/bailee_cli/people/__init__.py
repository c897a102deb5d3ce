"""The commands, by the person who uses them: a module each, or two."""
