"""How a person at a terminal is asked and told: layout, words, options, slips of the finger."""
