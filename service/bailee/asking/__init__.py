"""Before it is signed: what a person is asked in each step, what they may have meant, what is a slip."""
