"""One function per thing a person does."""
