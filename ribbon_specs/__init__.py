"""The shipped specification files (``*.toml``), a package so that an installed wheel finds them."""
