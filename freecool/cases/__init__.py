"""What a person tells about a building and its controls, and what is assumed where nothing is told."""
