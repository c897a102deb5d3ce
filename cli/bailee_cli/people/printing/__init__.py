"""What is printed: labels, and the papers that travel with samples."""
