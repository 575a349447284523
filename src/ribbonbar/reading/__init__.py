"""From flat strips to named ribbons: the light, the colour profile, decoding a row, how sure we are."""
