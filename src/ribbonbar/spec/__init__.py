"""The specification: what ribbons look like and in what order they are worn."""
