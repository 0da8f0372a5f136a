"""The live page: a front in the browser, served to this machine alone, and the same viewer as one file that opens from disk."""
