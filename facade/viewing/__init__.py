"""The viewer: a front in three dimensions for a browser, and the report that holds it in one file."""
