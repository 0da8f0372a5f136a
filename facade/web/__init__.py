"""The live page: a front in the browser, designed at once, served to this machine alone."""
