"""The report and its faces: JSON, terminal, HTML, picture."""
